#pragma once

#include <vector>

#include "verify/check.h"

namespace aircut::verify {

/// Findings of restarts and withdrawals that planning gave a fault of one of
/// these kinds; value and limit are the fault's.
std::vector<Finding> SideFaults(const CheckInputs& in, const std::vector<kinematics::PlanFaultKind>& kinds);

/// `main`, the result of joint-range along the job's motion, or that of the
/// restarts and withdrawals where theirs is worse.
CheckResult WithSideMargins(const CheckInputs& in, CheckResult main);

/// @returns " 5 restarts and 40 withdrawals by 50.0 mm are solved besides." with
/// what they were chosen from; empty where there are none.
std::string SideMovesText(const sim::Run& run);

}  // namespace aircut::verify
