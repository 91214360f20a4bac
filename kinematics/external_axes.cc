#include "kinematics/external_axes.h"

namespace aircut::kinematics {
namespace {

Pose MotionOf(const ExternalAxis& axis, const double value) {
  if (axis.kind == ExternalKind::kSlide) {
    return Pose(Eigen::Translation3d(value * axis.direction_B));
  }
  return Eigen::Translation3d(axis.p_B) * Eigen::AngleAxisd(value, axis.direction_B) *
         Eigen::Translation3d(-axis.p_B);
}

Pose SideMotion(const ArmModel& arm, const JointVector& e, const ExternalSide side) {
  Pose motion = Pose::Identity();
  for (std::size_t k = 0; k < arm.externals().size(); ++k) {
    const ExternalAxis& axis = arm.externals()[k];
    if (axis.side != side) continue;
    const JointSpec& joint = arm.joints()[arm.chain().size() + k];
    const double value = joint.sign * e[static_cast<Eigen::Index>(k)] + joint.zero_rad;
    motion = motion * MotionOf(axis, value);
  }
  return motion;
}

}  // namespace

Pose FootPose(const ArmModel& arm, const JointVector& e) {
  return SideMotion(arm, e, ExternalSide::kTool);
}

Pose TableMotion(const ArmModel& arm, const JointVector& e) {
  return SideMotion(arm, e, ExternalSide::kWork);
}

Pose WorkInFoot(const ArmModel& arm, const Pose& X_BS, const JointVector& e) {
  if (arm.externals().empty()) return X_BS;
  return FootPose(arm, e).inverse() * TableMotion(arm, e) * X_BS;
}

JointVector ExternalPart(const ArmModel& arm, const JointVector& q) {
  return q.tail(static_cast<Eigen::Index>(arm.externals().size()));
}

}  // namespace aircut::kinematics
