#include "kinematics/jacobian.h"

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"

namespace aircut::kinematics {

namespace {

using Column = Eigen::Matrix<double, 6, 1>;

// Columns of the chain with respect to its model angles, seen from the floor.
Jacobian ModelJacobian(const ArmModel& arm, const Pose& X_BA, const std::vector<Pose>& X_BL,
                       const Eigen::Vector3d& p_BQ) {
  Jacobian J(6, static_cast<Eigen::Index>(X_BL.size()));
  Pose X_BP = X_BA;  // P: the link before the joint.
  for (std::size_t i = 0; i < X_BL.size(); ++i) {
    const ChainJoint& joint = arm.chain()[i];
    const Eigen::Vector3d axis_B = X_BP.linear() * (joint.before.linear() * joint.axis);
    const Eigen::Vector3d p_BX = X_BP * joint.before.translation();  // X: point of the axis.
    const auto column = static_cast<Eigen::Index>(i);
    J.col(column).head<3>() = axis_B.cross(p_BQ - p_BX);
    J.col(column).tail<3>() = axis_B;
    X_BP = X_BL[i];
  }
  return J;
}

// With respect to panel values.
Jacobian ChainJacobian(const ArmModel& arm, const Pose& X_BA, const std::vector<Pose>& X_BL,
                       const Eigen::Vector3d& p_BQ) {
  const Jacobian J_model = ModelJacobian(arm, X_BA, X_BL, p_BQ);
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

// Of an axis on the tool side; `X_BK` is what the axes before it have done.
Column ExternalColumn(const ExternalAxis& axis, const Pose& X_BK, const Eigen::Vector3d& p_BQ) {
  Column column = Column::Zero();
  const Eigen::Vector3d direction_B = X_BK.linear() * axis.direction_B;
  if (axis.kind == ExternalKind::kSlide) {
    column.head<3>() = direction_B;
    return column;
  }
  column.head<3>() = direction_B.cross(p_BQ - X_BK * axis.p_B);
  column.tail<3>() = direction_B;
  return column;
}

}  // namespace

Jacobian GeometricJacobian(const ArmModel& arm, const JointVector& q,
                           const Eigen::Vector3d& p_FQ) {
  const std::vector<Pose> X_BL = LinkPoses(arm, q);
  const JointVector e = ExternalPart(arm, q);
  const Eigen::Vector3d p_BQ = X_BL.back() * p_FQ;
  Jacobian J = Jacobian::Zero(6, arm.joint_count());
  J.leftCols(static_cast<Eigen::Index>(X_BL.size())) =
      ChainJacobian(arm, FootPose(arm, e), X_BL, p_BQ);
  JointVector e_before = e;   // the axes from here on at model value 0
  for (std::size_t k = arm.externals().size(); k-- > 0;) {
    const JointSpec& joint = arm.joints()[arm.chain().size() + k];
    e_before[static_cast<Eigen::Index>(k)] = -joint.sign * joint.zero_rad;
    if (arm.externals()[k].side == ExternalSide::kWork) continue;
    const auto column = static_cast<Eigen::Index>(arm.chain().size() + k);
    J.col(column) = joint.sign * ExternalColumn(arm.externals()[k], FootPose(arm, e_before), p_BQ);
  }
  return J;
}

Jacobian JacobianFromFoot(const ArmModel& arm, const JointVector& q,
                          const Eigen::Vector3d& p_FQ) {
  std::vector<Pose> X_AL = LinkPoses(arm, q);
  if (!arm.externals().empty()) {
    const Pose X_AB = FootPose(arm, ExternalPart(arm, q)).inverse();
    for (Pose& X : X_AL) X = X_AB * X;
  }
  const Eigen::Vector3d p_AQ = X_AL.back() * p_FQ;
  return ChainJacobian(arm, Pose::Identity(), X_AL, p_AQ);
}

}  // namespace aircut::kinematics
