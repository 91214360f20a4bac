#include "sim/carrier_line.h"

#include <algorithm>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"

namespace aircut::sim {
namespace {

using kinematics::ExternalAxis;
using kinematics::ExternalKind;
using kinematics::ExternalSide;
using kinematics::Pose;

// At model value 0 the frames on both sides of an external axis are one.
CarrierJoint JointOf(const ExternalAxis& axis, int joint) {
  return {joint, axis.kind == ExternalKind::kSlide, axis.p_B, axis.p_B, axis.direction_B, axis.direction_B};
}

CarrierJoint JointOf(const kinematics::ChainJoint& joint, int index) {
  const Pose back = joint.after.inverse();
  return {index,
          false,
          joint.before.translation(),
          back.translation(),
          (joint.before.linear() * joint.axis).normalized(),
          (back.linear() * joint.axis).normalized()};
}

}  // namespace

CarrierLine::CarrierLine(const kinematics::ArmModel& arm) : arm_(arm) {
  const auto add_side = [&](ExternalSide side) {
    for (std::size_t k = 0; k < arm.externals().size(); ++k) {
      if (arm.externals()[k].side != side) continue;
      joints_.push_back(JointOf(arm.externals()[k], static_cast<int>(arm.chain().size() + k)));
    }
  };
  add_side(ExternalSide::kWork);
  std::reverse(joints_.begin(), joints_.end());  // axes are listed from the floor outwards
  room_ = static_cast<int>(joints_.size());
  add_side(ExternalSide::kTool);
  foot_ = static_cast<int>(joints_.size());
  for (std::size_t i = 0; i < arm.chain().size(); ++i) {
    joints_.push_back(JointOf(arm.chain()[i], static_cast<int>(i)));
  }
}

int CarrierLine::CarrierOf(const BodyMount& mount) const {
  switch (mount.on) {
    case BodyMount::On::kLink:
      return foot_ + mount.link;
    case BodyMount::On::kWork:
      return 0;
    case BodyMount::On::kWorld:
      break;
  }
  return room_;
}

void CarrierLine::AppendPoses(const kinematics::JointVector& q, const Pose& X_WB,
                              std::vector<Pose>* poses) const {
  if (!arm_.externals().empty()) {
    const kinematics::JointVector e = kinematics::ExternalPart(arm_, q);
    const std::vector<Pose> work = kinematics::SidePoses(arm_, e, ExternalSide::kWork);
    for (auto X = work.rbegin(); X != work.rend(); ++X) poses->push_back(X_WB * *X);
    poses->push_back(X_WB);
    for (const Pose& X : kinematics::SidePoses(arm_, e, ExternalSide::kTool)) poses->push_back(X_WB * X);
  } else {
    poses->push_back(X_WB);
  }
  for (const Pose& X_BL : kinematics::LinkPoses(arm_, q)) poses->push_back(X_WB * X_BL);
}

}  // namespace aircut::sim
