#pragma once

#include <optional>
#include <string>

#include "verify/finding.h"
#include "verify/scan_comparison.h"

namespace aircut::verify {

/// What a scan of the real piece settles. It judges one piece that was cut, and nothing
/// of the next one.
struct ScanVerdict {
  Result result = Result::kUnproven;
  std::string why;      ///< one sentence, with the mend where there is one
};

/// Fail: a region beyond the comparison's bound that the run did not predict (beside the
/// carving only where material is missing: more of it may be a clamp), or depths beyond the
/// limit by more than the bound. Unproven: the scan does not settle how it
/// lies, shows less than 80 % of the carving, or leaves depths within the bound of the
/// limit. @param depth_limit_mm what the job accepts of 95 % of the carving; nothing: not
/// stated.
ScanVerdict JudgeScan(const ScanComparison& comparison, const std::optional<double>& depth_limit_mm);

}  // namespace aircut::verify
