#pragma once

#include <vector>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// @param q panel values [rad], size = arm.joint_count().
/// @returns X_BF [mm], the foot where the external axes of `q` put it.
Pose FlangePose(const ArmModel& arm, const JointVector& q);

/// @returns X_AF [mm]: the flange from the foot, whatever the external axes.
Pose FlangeFromFoot(const ArmModel& arm, const JointVector& q);

/// @returns X_BL1 .. X_BLn [mm]; the last is X_BF.
std::vector<Pose> LinkPoses(const ArmModel& arm, const JointVector& q);

}  // namespace aircut::kinematics
