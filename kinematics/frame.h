#pragma once

#include <Eigen/Geometry>

namespace aircut::kinematics {

/// Frames, one capital letter each, right-handed, mm:
///   W world (cell floor)      B robot base          L1..L8 links
///   F mechanical interface    H holder nose         T tool, origin at the tip
///   S workpiece               D design mesh
/// H: lowest face of the collet nut, +z from the tip towards the spindle.
/// T: parallel to H, origin at the tip end (z_H = -stick_out).
/// `X_AB` is the pose of B in A: it maps coordinates in B to coordinates in A.
/// `p_AQ` is the position of point Q from the origin of A, expressed in A.
using Pose = Eigen::Isometry3d;

/// @returns the pose with rotation `R_AB` and origin `p_AB` [mm].
Pose MakePose(const Eigen::Matrix3d& R_AB, const Eigen::Vector3d& p_AB);

/// @returns true if every entry is finite and the rotation part is orthonormal
/// and right-handed within `tolerance`.
bool IsRigid(const Pose& X_AB, double tolerance = 1e-9);

/// @returns the rotation whose +z is `axis_A` and whose +x is the part of
/// `toward_A` square to it: the tool orientation with the spin fixed.
/// @throws std::invalid_argument if `toward_A` is within 1e-6 rad of the axis.
Eigen::Matrix3d RotationFromAxis(const Eigen::Vector3d& axis_A, const Eigen::Vector3d& toward_A);

}  // namespace aircut::kinematics
