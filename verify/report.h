#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/dry_run.h"
#include "verify/deviation.h"
#include "verify/verdict.h"

namespace aircut::verify {

struct ReportContext {
  const sim::Job& job;
  const sim::Run& run;
  const Deviation& deviation;
  const std::vector<CheckResult>& checks;
  const Verdict& verdict;
  double resolution_mm = 0.0;
  int threads = 1;
  double peak_mib = 0.0;
};

/// Writes report.html, carved.ply, moments.csv into `folder` (made fresh; each
/// file under a temporary name, then renamed) and report.json last, with the
/// hashes of its siblings. Nothing is computed here.
void WriteReport(const ReportContext& context, const std::filesystem::path& folder);

/// The text of report.json (schema: verify/report.schema.json).
std::string ReportJson(const ReportContext& context);
/// The text of report.html; `picture_png` is embedded.
std::string ReportHtml(const ReportContext& context, const std::vector<unsigned char>& picture_png);

}  // namespace aircut::verify
