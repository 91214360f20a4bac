#pragma once

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// Singular values of the Jacobian of point Q fixed in F for the joints of the
/// chain, its translation rows divided by `length_mm` so that all are rates of
/// one kind; falling. @param q panel values [rad], size = arm.joint_count().
/// @returns min(6, joints of the chain) values.
JointVector SingularValues(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FQ,
                           double length_mm);

/// The smallest of them: 0 at a singular place. Meaning: no unit of joint rates
/// moves the tool by less than this share of `length_mm` (or radian).
double SmallestSingularValue(const ArmModel& arm, const JointVector& q,
                             const Eigen::Vector3d& p_FQ, double length_mm);

/// Which rows of the Jacobian an index looks at.
enum class Rows { kAll, kTranslation, kRotation };

/// Yoshikawa's index sqrt(det(J J^T)), translation rows divided by `length_mm`.
/// Source: Yoshikawa, IJRR 4(2) 1985.
double Manipulability(const Jacobian& J, double length_mm, Rows rows = Rows::kAll);

}  // namespace aircut::kinematics
