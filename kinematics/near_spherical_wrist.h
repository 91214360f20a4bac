#pragma once

#include <optional>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// The arm with closed-form inverse kinematics (see InverseKinematics) that is
/// nearest to `arm`: axes 4 and 6 are moved through the point that is nearest to
/// the last three axes, axes are turned until they are parallel or square as the
/// closed form asks, the flange stays where it is at model angles 0. Joints,
/// couplings and model angles are those of `arm`, so that its solutions are
/// starts for a search; none of them is a solution of `arm`. External axes are
/// left out.
/// @returns nothing where an axis would have to turn by more than 0.3 rad, or the
/// arm has not six joints: then no such arm is near.
std::optional<ArmModel> NearSphericalWrist(const ArmModel& arm);

}  // namespace aircut::kinematics
