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
  std::vector<std::string> to_sign;   ///< what only a person at the cell can vouch for
};

/// Worst of the required checks. Hazard checks always count: a fail of one fails
/// the job, and one left out of `require:` keeps the job from a pass.
/// @param without error layers that the run left out: a what-if, never a pass.
Verdict Judge(const sim::Job& job, const std::vector<CheckResult>& checks,
              const std::vector<std::string>& without = {});

}  // namespace aircut::verify
