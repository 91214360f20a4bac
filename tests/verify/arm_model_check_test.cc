#include <algorithm>
#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using kinematics::ArmModel;
using kinematics::RadFromDeg;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using support::PanelFromDeg;
using testing::HasSubstr;

// The model in the cell, with one thing about one joint changed; the read-outs stay.
void ChangeModel(MadeRun* made, void (*change)(std::vector<kinematics::JointSpec>*)) {
  std::vector<kinematics::JointSpec> joints = support::SampleArmJoints();
  change(&joints);
  made->job.cell.arm = std::make_shared<const ArmModel>(
      ArmModel::FromSphericalWrist(support::SampleArmParameters(), joints));
}

TEST(ArmModelCheckTest, ReadoutsOfTheSameArmPass) {
  const CheckResult r = Check(MakeRun(), CheckArmModel);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_THAT(r.why, HasSubstr("4 read-outs agree with the model"));
  EXPECT_LT(*r.worst, 1e-6);
}

TEST(ArmModelCheckTest, NoneOrTwoReadoutsAreUnproven) {
  MadeRun made = MakeRun();
  made.job.cell.readouts->rows.resize(2);
  CheckResult r = Check(made, CheckArmModel);
  EXPECT_EQ(r.result, Result::kUnproven);
  made.job.cell.readouts.reset();
  r = Check(made, CheckArmModel);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("arm.readouts"));
}

// Oracle: the sign that was turned over.
TEST(ArmModelCheckTest, WrongSignFailsByItsJoint) {
  MadeRun made = MakeRun();
  ChangeModel(&made, [](std::vector<kinematics::JointSpec>* joints) { (*joints)[3].sign = -1.0; });
  const CheckResult r = Check(made, CheckArmModel);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).cause, HasSubstr("the sign of joint 4 should be +1"));
  EXPECT_THAT(r.findings[0].text, HasSubstr("Row "));
}

// Oracle: the zero that was moved by 2 deg (domain notes A64).
TEST(ArmModelCheckTest, LostZeroFailsWithItsSize) {
  MadeRun made = MakeRun();
  ChangeModel(&made, [](std::vector<kinematics::JointSpec>* joints) {
    (*joints)[1].zero_rad += RadFromDeg(2.0);
  });
  const CheckResult r = Check(made, CheckArmModel);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).cause, HasSubstr("the zero of joint 2 is off by -2.000 deg"));
}

// Oracle: a forearm held level by parallel bars: joint 3 follows joint 2 with ratio -1.
TEST(ArmModelCheckTest, ForgottenCouplingFailsWithItsRatio) {
  MadeRun made = MakeRun();
  std::vector<kinematics::JointSpec> joints = support::SampleArmJoints();
  joints[2].follows = kinematics::JointFollow{1, -1.0};
  made.job.cell.readouts = support::MadeReadouts(
      ArmModel::FromSphericalWrist(support::SampleArmParameters(), joints));
  const CheckResult r = Check(made, CheckArmModel);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).cause, HasSubstr("the coupling of joint 3 to joint 2 should be -1"));
}

// Two errors at once are none of the single ones.
TEST(ArmModelCheckTest, TwoErrorsAreNotPutOnOneJoint) {
  MadeRun made = MakeRun();
  ChangeModel(&made, [](std::vector<kinematics::JointSpec>* joints) {
    (*joints)[0].zero_rad += RadFromDeg(3.0);
    (*joints)[4].sign = -1.0;
  });
  const CheckResult r = Check(made, CheckArmModel);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).cause, HasSubstr("no single"));
}

// Joint 4 stands at zero in every row: its sign could be either.
TEST(ArmModelCheckTest, ReadoutsThatCannotShowASignAreUnprovenNamingTheJoint) {
  MadeRun made = MakeRun();
  for (sim::Readout& row : made.job.cell.readouts->rows) {
    row.q[3] = 0.0;
    row.X_BF = kinematics::FlangePose(*made.job.cell.arm, row.q);
  }
  const CheckResult r = Check(made, CheckArmModel);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("the sign of joint 4"));
  EXPECT_THAT(r.needs.at(0), HasSubstr("joint 4"));
  // Nearly: turned in one row only is enough.
  sim::Readout& row = made.job.cell.readouts->rows[0];
  row.q[3] = RadFromDeg(25.0);
  row.X_BF = kinematics::FlangePose(*made.job.cell.arm, row.q);
  EXPECT_EQ(Check(made, CheckArmModel).result, Result::kPass) << Check(made, CheckArmModel).why;
}

// Either side of the limit of 0.05 mm (domain notes A9).
TEST(ArmModelCheckTest, PositionEitherSideOfTheLimit) {
  MadeRun made = MakeRun();
  made.job.cell.readouts->rows[2].X_BF.translation().y() += 0.0498;
  EXPECT_EQ(Check(made, CheckArmModel).result, Result::kPass) << Check(made, CheckArmModel).why;
  made.job.cell.readouts->rows[2].X_BF.translation().y() += 0.0004;
  const CheckResult r = Check(made, CheckArmModel);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.where, "row 4");
}

TEST(ArmModelCheckTest, RotationAloneFailsInDegrees) {
  MadeRun made = MakeRun();
  made.job.cell.readouts->rows[1].X_BF.rotate(
      Eigen::AngleAxisd(RadFromDeg(0.03), Eigen::Vector3d::UnitX()));
  const CheckResult r = Check(made, CheckArmModel);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.unit, "deg");
  EXPECT_NEAR(*r.worst, 0.03, 1e-6);
}

// A panel that shows joints to 0.1 deg moves a flange 2 m away by 1.7 mm and more:
// nothing can be said to 0.05 mm, whether the numbers agree or not.
TEST(ArmModelCheckTest, CoarseDigitsAreUnprovenNotWrong) {
  MadeRun made = MakeRun();
  made.job.cell.readouts->joint_rounding_rad = RadFromDeg(0.05);
  CheckResult r = Check(made, CheckArmModel);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("more digits"));
  EXPECT_GT(*r.bound, 1.0);
  made.job.cell.readouts->rows[0].X_BF.translation().z() += 1.0;
  EXPECT_EQ(Check(made, CheckArmModel).result, Result::kUnproven);
  made.job.accept.arm_model_mm = {6.0, true};
  made.job.accept.arm_model_deg = {0.6, true};
  r = Check(made, CheckArmModel);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
}

// Oracle: simulation. Joints rounded to 0.01 deg leave residuals; the stated effect of
// rounding covers 95 rows in 100 or more and is not twice what rounding really does.
TEST(ArmModelCheckTest, EffectOfRoundingCoversWhatRoundingDoes) {
  int covered = 0;
  double largest_share = 0.0;
  constexpr int kRows = 300;
  const ArmModel arm = support::SampleArm();
  for (int i = 0; i < kRows; ++i) {
    MadeRun made = MakeRun();
    sim::ReadoutTable table;
    table.joint_rounding_rad = RadFromDeg(0.005);
    sim::Readout row;
    row.line = 2;
    const kinematics::JointVector exact =
        PanelFromDeg({37.0 * i + .123, 31.7 + .0137 * i, 21.3 + .0071 * i, 40.0 + .317 * i,
                      55.0 - .0931 * i, 1.0 + .771 * i});
    row.X_BF = kinematics::FlangePose(arm, exact);
    row.q = exact.unaryExpr([](double q_rad) {
      return RadFromDeg(std::round(kinematics::DegFromRad(q_rad) * 100.0) / 100.0);
    });
    table.rows.assign(3, row);
    made.job.cell.readouts = table;
    made.job.accept.arm_model_deg = {1.0, true};   // position speaks
    const CheckResult position = Check(made, CheckArmModel);
    covered += *position.worst <= *position.bound ? 1 : 0;
    largest_share = std::max(largest_share, *position.worst / *position.bound);
  }
  EXPECT_GE(covered, kRows * 95 / 100);
  EXPECT_GT(largest_share, 0.5);
}

TEST(ArmModelCheckTest, NotANumberNeverPasses) {
  MadeRun made = MakeRun();
  made.job.cell.readouts->joint_rounding_rad = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Check(made, CheckArmModel).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
