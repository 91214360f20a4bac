#pragma once

#include <string>
#include <vector>

#include "sim/job.h"
#include "verify/check.h"
#include "verify/finding.h"

namespace aircut::verify {

struct BlindSpot {
  std::string text;   ///< what this run cannot see
  std::string test;   ///< the shop-floor test that would
};

struct Verdict {
  Result result = Result::kUnproven;
  std::string headline;       ///< a sentence with a number and a place
  std::string mend_first;     ///< what to mend first; empty on a clean run
  std::string reason;         ///< which checks decided, what was not asked or not computed
  std::vector<BlindSpot> cannot_see;
};

/// Worst of the required checks; a fail of any hazard check fails the job;
/// a computed hazard check left out of `require:` still counts.
Verdict Judge(const sim::Job& job, const std::vector<CheckResult>& checks);

}  // namespace aircut::verify
