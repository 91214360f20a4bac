#pragma once

#include <optional>
#include <string>
#include <vector>

#include "kinematics/motion.h"
#include "verify/check.h"

namespace aircut::verify {

// Private to verify: what the checks of the planned motion share.

/// @returns the tip of a path line in S; nothing where the index is no line.
std::optional<Eigen::Vector3d> PlaceOf(const sim::Job& job, int path_index);

/// @returns false where the postures of the arm are searched and another posture,
/// which the search missed, might not have the fault.
bool IsSure(const sim::Job& job, const kinematics::PlanFault& fault);

/// Makes a failed result unproven where none of its findings is sure.
void LeaveOpenIfUnsure(CheckResult* result);

/// @returns the faults of planning of the kinds asked for, neighbouring lines in
/// one finding; values as in PlanFault, the unit `mm` where the joint is a slide.
std::vector<Finding> FaultFindings(const CheckInputs& in,
                                   const std::vector<kinematics::PlanFaultKind>& kinds);

/// @returns where two bodies come nearest, in S, wherever the axes under the work
/// have carried it by then.
Eigen::Vector3d PlaceInWork(const sim::Run& run, const sim::NearPlace& place);

/// @returns "joint 3", or "joint 7 (track)". @param joint from 0.
std::string JointName(const sim::Job& job, int joint);

/// @returns true where the joint's values are mm. @param joint from 0, or -1.
bool SlidesIn(const sim::Job& job, int joint);

/// @returns true if the motion is complete and its main track carries joints, lines
/// and phases for every moment.
bool HasMoments(const sim::Run& run);

/// @returns unproven: the arm could not follow the path.
CheckResult NotFollowed(const sim::Run& run);

/// @returns a failed result from faults of planning, not empty, or an unproven one
/// where none of them is sure; the first finding of a failed one carries what
/// planning found out about a split or a move of the work, unless the arm is searched.
CheckResult FailedBy(const CheckInputs& in, std::vector<Finding> findings, const std::string& cause);

}  // namespace aircut::verify
