#pragma once

#include <vector>

#include "kinematics/arm_model.h"
#include "tests/support/sample_arm.h"

namespace aircut::support {

// Made-up arms without closed form.

/// Rows of an arm of the sample arm's size whose axis 6 passes axis 5 at 80 mm
/// and whose axis 5 stands 60 mm before the forearm.
inline std::vector<kinematics::DhRow> OffsetWristRows() {
  const double quarter = kinematics::kPi / 2;
  return {{350, -quarter, 780, 0}, {1100, 0, 0, -quarter},  {-100, -quarter, 0, 0},
          {60, quarter, 1196, 0},  {80, -quarter, 0, 0}, {0, 0, 200, 0}};
}
inline kinematics::ArmModel OffsetWristArm() {
  std::vector<kinematics::JointSpec> joints = SampleArmJoints();
  joints[2].zero_rad = 0;
  return kinematics::ArmModel::FromDhStandard(OffsetWristRows(), joints);
}

/// The forearm turns about an axis 150 mm beside the wrist, and joint 3 is driven
/// by bars from the foot: it follows joint 2.
inline kinematics::ArmModel BesideWristArm() {
  std::vector<kinematics::DhRow> rows = OffsetWristRows();
  rows[3].a_mm = rows[4].a_mm = 0;
  rows[4].d_mm = 150;
  std::vector<kinematics::JointSpec> joints = SampleArmJoints();
  joints[2].zero_rad = 0;
  joints[2].follows = kinematics::JointFollow{1, -1.0};
  joints[3].sign = joints[5].sign = -1;
  return kinematics::ArmModel::FromDhStandard(rows, joints);
}

/// Axes 2, 3 and 4 parallel, the last three nowhere near a point.
inline kinematics::ArmModel ThreeParallelArm() {
  const double quarter = kinematics::kPi / 2;
  return kinematics::ArmModel::FromDhStandard(
      {{0, quarter, 160, 0}, {-610, 0, 0, 0}, {-570, 0, 0, 0},
       {0, quarter, 170, 0}, {0, -quarter, 120, 0}, {0, 0, 115, 0}},
      PlainJoints(6));
}

/// A hollow wrist: axes 4, 5 and 6 lean by 60 degrees to each other, 150 mm apart.
inline kinematics::ArmModel LeaningWristArm() {
  std::vector<kinematics::DhRow> rows = OffsetWristRows();
  rows[3].a_mm = rows[4].a_mm = 0;
  rows[3].alpha_rad = kinematics::kPi / 3;
  rows[4].alpha_rad = -kinematics::kPi / 3;
  rows[4].d_mm = 150;
  std::vector<kinematics::JointSpec> joints = SampleArmJoints();
  joints[2].zero_rad = 0;
  return kinematics::ArmModel::FromDhStandard(rows, joints);
}

}  // namespace aircut::support
