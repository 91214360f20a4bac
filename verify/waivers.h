#pragma once

#include <string>
#include <vector>

#include "sim/waiver.h"
#include "verify/finding.h"

namespace aircut::verify {

/// What becomes of a signed line on the day of the run.
struct WaiverOutcome {
  sim::Waiver waiver;
  enum class State {
    kCounts,     ///< the check does not pass, and someone answers for it
    kExpired,    ///< its last day is over
    kIdle        ///< the check passes: there is nothing to answer for
  } state = State::kIdle;
};

/// @param today nothing: no waiver counts, since none can be told from an expired one.
std::vector<WaiverOutcome> JudgeWaivers(const std::vector<sim::Waiver>& waivers, const std::vector<CheckResult>& checks,
                                        const std::string& today);

/// Sets CheckResult::waived, and nothing else: results, verdict and exit code are
/// those without a waiver.
void MarkWaived(const std::vector<WaiverOutcome>& outcomes, std::vector<CheckResult>* checks);

}  // namespace aircut::verify
