#pragma once

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// Geometric Jacobian of point Q fixed in F, expressed in B, with respect to
/// panel values: [v_BQ; w_BF] = J * qd.
/// @param p_FQ position of Q from Fo, in F [mm].
/// @returns 6 x n, rows vx vy vz [mm/rad], wx wy wz [-].
/// With external axes: as seen from B, the columns of axes on the work side 0.
Jacobian GeometricJacobian(const ArmModel& arm, const JointVector& q,
                           const Eigen::Vector3d& p_FQ = Eigen::Vector3d::Zero());

/// The same for the joints of the chain alone, seen from and expressed in the
/// foot frame A. @returns 6 x arm.chain().size().
Jacobian JacobianFromFoot(const ArmModel& arm, const JointVector& q,
                          const Eigen::Vector3d& p_FQ = Eigen::Vector3d::Zero());

}  // namespace aircut::kinematics
