#pragma once

#include <vector>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// A joint axis: a point of it and its unit direction, in B [mm].
struct AxisLine {
  Eigen::Vector3d point_B = Eigen::Vector3d::Zero();
  Eigen::Vector3d direction_B = Eigen::Vector3d::UnitZ();
};

/// @returns the axes of the chain at model angles 0, foot to flange. A turn
/// about an axis leaves it alone, so no joint feels its own angle here.
std::vector<AxisLine> AxesAtZero(const ArmModel& arm);

/// @returns the flange seen from the foot at model angles 0.
Pose FlangeAtZero(const ArmModel& arm);

}  // namespace aircut::kinematics
