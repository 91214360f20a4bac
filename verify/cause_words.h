#pragma once

#include <string>

#include "sim/job.h"
#include "verify/probable_cause.h"

namespace aircut::verify {

/// @returns "the work frame lies 2.00 ± 0.01 mm too low, which explains 98 % of ..": cause,
/// size with its standard error, share, rivals, and the one measurement that tells them
/// apart. No full stop.
std::string CauseText(const ProbableCause& cause, const sim::Job& job);

}  // namespace aircut::verify
