#include "kinematics/jacobian.h"

#include "kinematics/forward_kinematics.h"

namespace aircut::kinematics {

namespace {

// Columns with respect to the model angles.
Jacobian ModelJacobian(const ArmModel& arm, const std::vector<Pose>& X_BL,
                       const Eigen::Vector3d& p_BQ) {
  Jacobian J(6, arm.joint_count());
  Pose X_BP = Pose::Identity();  // P: the link before the joint.
  for (std::size_t i = 0; i < X_BL.size(); ++i) {
    const ChainJoint& joint = arm.chain()[i];
    const Eigen::Vector3d axis_B = X_BP.linear() * (joint.before.linear() * joint.axis);
    const Eigen::Vector3d p_BA = X_BP * joint.before.translation();  // A: point of the axis.
    const auto column = static_cast<Eigen::Index>(i);
    J.col(column).head<3>() = axis_B.cross(p_BQ - p_BA);
    J.col(column).tail<3>() = axis_B;
    X_BP = X_BL[i];
  }
  return J;
}

}  // namespace

Jacobian GeometricJacobian(const ArmModel& arm, const JointVector& q,
                           const Eigen::Vector3d& p_FQ) {
  const std::vector<Pose> X_BL = LinkPoses(arm, q);
  const Jacobian J_model = ModelJacobian(arm, X_BL, X_BL.back() * p_FQ);
  Jacobian J = J_model;
  for (Eigen::Index i = 0; i < J.cols(); ++i) {
    J.col(i) *= arm.joints()[static_cast<std::size_t>(i)].sign;
  }
  // A following joint turns with the panel value of the joint it follows.
  for (Eigen::Index i = 0; i < J.cols(); ++i) {
    const auto& follows = arm.joints()[static_cast<std::size_t>(i)].follows;
    if (follows) J.col(follows->joint) += follows->ratio * J_model.col(i);
  }
  return J;
}

}  // namespace aircut::kinematics
