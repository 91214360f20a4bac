#include "kinematics/forward_kinematics.h"

#include "kinematics/external_axes.h"

namespace aircut::kinematics {

namespace {

Pose JointPose(const ChainJoint& joint, double theta_rad) {
  Pose X = joint.before;
  X.rotate(Eigen::AngleAxisd(theta_rad, joint.axis));
  return X * joint.after;
}

}  // namespace

Pose FlangeFromFoot(const ArmModel& arm, const JointVector& q) {
  const JointVector theta = arm.ModelAngles(q);
  Pose X_AL = Pose::Identity();
  Eigen::Index i = 0;
  for (const ChainJoint& joint : arm.chain()) X_AL = X_AL * JointPose(joint, theta[i++]);
  return X_AL;
}

Pose FlangePose(const ArmModel& arm, const JointVector& q) {
  if (arm.externals().empty()) return FlangeFromFoot(arm, q);
  return FootPose(arm, ExternalPart(arm, q)) * FlangeFromFoot(arm, q);
}

std::vector<Pose> LinkPoses(const ArmModel& arm, const JointVector& q) {
  const JointVector theta = arm.ModelAngles(q);
  std::vector<Pose> links;
  links.reserve(arm.chain().size());
  Pose X_BL = FootPose(arm, ExternalPart(arm, q));
  Eigen::Index i = 0;
  for (const ChainJoint& joint : arm.chain()) {
    X_BL = X_BL * JointPose(joint, theta[i++]);
    links.push_back(X_BL);
  }
  return links;
}

}  // namespace aircut::kinematics
