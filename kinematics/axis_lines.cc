#include "kinematics/axis_lines.h"

namespace aircut::kinematics {

std::vector<AxisLine> AxesAtZero(const ArmModel& arm) {
  std::vector<AxisLine> axes;
  Pose X_BL = Pose::Identity();
  for (const ChainJoint& joint : arm.chain()) {
    const Pose X_BA = X_BL * joint.before;
    axes.push_back({X_BA.translation(), (X_BA.linear() * joint.axis).normalized()});
    X_BL = X_BA * joint.after;
  }
  return axes;
}

Pose FlangeAtZero(const ArmModel& arm) {
  Pose X_BF = Pose::Identity();
  for (const ChainJoint& joint : arm.chain()) X_BF = X_BF * joint.before * joint.after;
  return X_BF;
}

}  // namespace aircut::kinematics
