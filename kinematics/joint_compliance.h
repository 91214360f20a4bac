#pragma once

#include <vector>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// What a serial arm gives at its tool by the springs in its joints. Links count as rigid:
/// most of what an arm gives comes from its drives (up to 95 % of the deflection, domain
/// notes R7). All in the foot frame A; torque and turn of a joint are those of its panel
/// value, so that a drive which a later joint follows bears what that joint bears.

/// Displacement of Q by a force at P: C = J_Q K^-1 J_P^T, 3x3 [mm/N].
/// Source: Salisbury 1980, external check STF-06.
/// @param p_FQ, p_FP in F [mm]. @param stiffness_nm_rad one per joint of the chain, > 0.
/// @throws std::invalid_argument for a stiffness that is not > 0 or a wrong count.
Eigen::Matrix3d JointCompliance(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FQ,
                                const Eigen::Vector3d& p_FP, const std::vector<double>& stiffness_nm_rad);

/// Displacement of Q, 3 x n [mm], where each joint of the chain stands off by `turn_rad`.
Eigen::Matrix3Xd JointShifts(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FQ,
                             const std::vector<double>& turn_rad);

}  // namespace aircut::kinematics
