#pragma once

#include <string>

#include <Eigen/Core>

#include "kinematics/frame.h"

namespace aircut::verify {

/// Numbers and poses of a cell as a sheet shows them: as they were given, in
/// shop units, up to three decimals, no trailing zeros, thousands separated.
/// "unknown" for what is not finite.

/// @returns "1,234.5", "-0.062", "0".
std::string Given(double value);
/// @returns "40.01 mm".
std::string GivenMm(double length_mm);
/// @returns "-92.5°" for an angle inside [rad].
std::string GivenDegrees(double angle_rad);
/// @returns "(1,700, 0, 750)"; the unit is the caller's.
std::string GivenTriple(const Eigen::Vector3d& p);
/// @returns "(1,700, 0, 750) mm, turned 90° about (0, 0, 1)", or "..., not turned"
/// below 1e-6 rad. The axis is the one with an angle in (0, 180°]; at 180° its
/// first component that is not 0 is positive.
std::string GivenPose(const kinematics::Pose& X_AB);

}  // namespace aircut::verify
