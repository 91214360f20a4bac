#pragma once

#include <array>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// The geometry of an arm whose second and third axes are parallel and square
/// to the first and whose last three meet, square to each other in turn, read
/// off its joint axes: the lengths of SphericalWristParameters and the map from
/// the arm's own model angles to the angles of that canonical arm.
/// Two frames more than in frame.h:
///   P  canonical base: z along axis 1, y along axis 2 at model angle 0, origin
///      on axis 1 at the height of axis 2 (so c1 is 0)
///   C  wrist: moves with F, origin where the last three axes meet (so c4 is 0),
///      z along axis 6, y along axis 5 at model angle 0 of joint 6
struct OrthoParallelGeometry {
  double a1_mm = 0, a2_mm = 0, b_mm = 0, c2_mm = 0, c3_mm = 0;
  /// canonical angle = sign * model angle + offset
  std::array<double, 6> sign{};
  std::array<double, 6> offset_rad{};
  Pose X_PB = Pose::Identity();
  Pose X_FC = Pose::Identity();
};

/// @throws std::invalid_argument saying which condition of the geometry the
/// arm does not meet, with the value and its bound. Bounds: 1e-10 rad for
/// angles between axes, 1e-7 mm for axes that must meet.
OrthoParallelGeometry ReadOrthoParallelGeometry(const ArmModel& arm);

}  // namespace aircut::kinematics
