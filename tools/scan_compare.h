#pragma once

#include <filesystem>
#include <string>

#include "tools/exit_code.h"

namespace aircut::tools {

/// @returns whether a name is that of a mesh, a scan, rather than of a report's folder.
bool IsScanName(const std::filesystem::path& name);

/// A report's folder and a scan of the piece that was cut.
struct ScanRequest {
  std::filesystem::path report, scan;
  std::string unit = "mm";             ///< of the scan: mm, cm, m or in
  std::filesystem::path measured;      ///< surface to write, with what was measured; empty: none
  std::filesystem::path page;          ///< page to write; empty: none
  enum class Print { kSentences, kJson, kNothing } print = Print::kSentences;
};

/// Prints what the scan says of the run: how it was laid on the piece, what is left over,
/// what changed and where, and whether the prediction covered it. Ends with kExitPass,
/// kExitFail or kExitUnproven. @throws sim::InputError for bad files or words.
ExitCode CompareReportWithScan(const ScanRequest& request);

}  // namespace aircut::tools
