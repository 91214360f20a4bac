#pragma once

#include <optional>

#include "sim/cell.h"

namespace aircut::verify {

/// How far a point that the flange carries gets, found by search over the joint
/// ranges (couplings and shared ranges kept): every value is reached by a
/// posture within the ranges, so the true extent is never smaller. Clashes are
/// not looked at. External axes stand at home.
struct ArmReach {
  double farthest_mm = 0.0;   ///< from the axis of joint 1
  double lowest_mm = 0.0;     ///< z in W
  double highest_mm = 0.0;    ///< z in W
};

/// @param p_FQ the point [mm]. Deterministic. For a point on the wrist or the
/// tool of a usual six-axis arm the search ends within 0.01 mm of the extent.
/// @throws std::invalid_argument for a cell without an arm.
ArmReach FindReach(const sim::Cell& cell, const Eigen::Vector3d& p_FQ);

/// @returns where the last three axes meet, in F [mm]; nothing where the arm is
/// not one whose second and third axes are parallel and whose last three meet.
std::optional<Eigen::Vector3d> WristCentreInFlange(const kinematics::ArmModel& arm);

}  // namespace aircut::verify
