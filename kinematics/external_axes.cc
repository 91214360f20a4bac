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
  const std::vector<Pose> poses = SidePoses(arm, e, side);
  return poses.empty() ? Pose::Identity() : poses.back();
}

}  // namespace

std::vector<Pose> SidePoses(const ArmModel& arm, const JointVector& e, const ExternalSide side) {
  std::vector<Pose> poses;
  Pose motion = Pose::Identity();
  for (std::size_t k = 0; k < arm.externals().size(); ++k) {
    const ExternalAxis& axis = arm.externals()[k];
    if (axis.side != side) continue;
    const JointSpec& joint = arm.joints()[arm.chain().size() + k];
    const double value = joint.sign * e[static_cast<Eigen::Index>(k)] + joint.zero_rad;
    motion = motion * MotionOf(axis, value);
    poses.push_back(motion);
  }
  return poses;
}

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

bool IsSlide(const ArmModel& arm, const int joint) {
  const int external = joint - static_cast<int>(arm.chain().size());
  return external >= 0 && arm.externals()[static_cast<std::size_t>(external)].kind == ExternalKind::kSlide;
}

std::vector<bool> SlidesOf(const ArmModel& arm) {
  std::vector<bool> slides;
  for (int joint = 0; joint < arm.joint_count(); ++joint) slides.push_back(IsSlide(arm, joint));
  return slides;
}

JointVector ExternalPart(const ArmModel& arm, const JointVector& q) {
  return q.tail(static_cast<Eigen::Index>(arm.externals().size()));
}

}  // namespace aircut::kinematics
