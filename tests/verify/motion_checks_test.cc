#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "tests/support/sample_arm.h"

namespace aircut::verify {
namespace {

using kinematics::PlanFaultKind;
using kinematics::RadFromDeg;
using support::BreakMotion;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kInf = std::numeric_limits<double>::infinity();

TEST(ReachTest, FollowedPathPasses) {
  const CheckResult r = Check(MakeRun(), CheckReach);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("12 lines"));
}

TEST(ReachTest, FaultIsCaughtWithItsLineAndPlace) {
  for (const PlanFaultKind kind : {PlanFaultKind::kOutOfReach, PlanFaultKind::kAtSingularity}) {
    MadeRun made = MakeRun();
    BreakMotion(&made, kind);
    made.run.motion.faults[0].value = 35.0;
    const CheckResult r = Check(made, CheckReach);
    ASSERT_EQ(r.result, Result::kFail);
    ASSERT_EQ(r.findings.size(), 1u);
    EXPECT_EQ(r.findings[0].line, 7);
    EXPECT_EQ(*r.findings[0].at_S, made.job.path[5].p_ST);
    EXPECT_EQ(r.worst, 35.0);
  }
}

TEST(ReachTest, NeighbouringLinesAreOneFindingAndManyAreCounted) {
  MadeRun made = MakeRun();
  BreakMotion(&made, PlanFaultKind::kOutOfReach);
  kinematics::PlanFault fault = made.run.motion.faults[0];
  made.run.motion.faults.clear();
  for (int i = 0; i < 4; ++i) {
    fault.path_index = fault.line = 10 + i;
    fault.value = i == 2 ? 9.0 : 1.0;
    made.run.motion.faults.push_back(fault);
  }
  for (int i = 0; i < 30; ++i) {
    fault.path_index = fault.line = 100 + 10 * i;
    made.run.motion.faults.push_back(fault);
  }
  const CheckResult r = Check(made, CheckReach);
  EXPECT_EQ(r.findings.size(), kMostFindings);
  EXPECT_EQ(r.findings[0].lines, (std::vector<int>{10, 13}));
  EXPECT_EQ(r.findings[0].value, 9.0);
  EXPECT_THAT(r.why, HasSubstr("11 further places"));   // 31 stretches, 20 listed
}

// Every kind of planning fault fails exactly one check: none may fall through.
TEST(MotionChecksTest, EveryKindOfFaultFailsOneCheck) {
  for (const PlanFaultKind kind : {PlanFaultKind::kOutOfReach, PlanFaultKind::kOutOfRange,
                                   PlanFaultKind::kPostureBreak, PlanFaultKind::kAtSingularity}) {
    MadeRun made = MakeRun();
    BreakMotion(&made, kind);
    int failed = 0;
    for (const auto check : {CheckReach, CheckJointRange, CheckPostureChange}) {
      const Result result = Check(made, check).result;
      failed += result == Result::kFail ? 1 : 0;
      EXPECT_NE(result, Result::kPass);
    }
    EXPECT_EQ(failed, 1);
  }
}

TEST(MotionChecksTest, NoMotionProvesNothing) {
  MadeRun made = MakeRun();
  made.run.motion = {};
  for (const auto check : {CheckReach, CheckJointRange, CheckJointSpeed, CheckPostureChange}) {
    EXPECT_EQ(Check(made, check).result, Result::kUnproven);
  }
}

// Oracle: default margin of 5 deg (domain notes A13), either side.
TEST(JointRangeTest, MarginEitherSideOfTheLimit) {
  MadeRun made = MakeRun();
  made.run.motion.joint_margins[4].margin_rad = RadFromDeg(5.003);
  EXPECT_EQ(Check(made, CheckJointRange).result, Result::kPass);
  made.run.motion.joint_margins[4].margin_rad = RadFromDeg(4.999);
  const CheckResult r = Check(made, CheckJointRange);
  ASSERT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_EQ(r.sense, Sense::kAtLeast);
  EXPECT_TRUE(r.assumed);
  EXPECT_THAT(r.findings[0].text, HasSubstr("Joint 5"));
  EXPECT_THAT(r.findings[0].text, HasSubstr("line 5"));
  made.job.accept.joint_margin_deg = {4.0, true};
  EXPECT_EQ(Check(made, CheckJointRange).result, Result::kPass);
  EXPECT_FALSE(Check(made, CheckJointRange).assumed);
}

// Gives the made arm a track and a turntable, and the motion their margins.
void GiveAxes(MadeRun* made, double slide_mm, double turn_deg) {
  using kinematics::ExternalKind;
  using kinematics::ExternalSide;
  kinematics::JointSpec slide = support::JointInDegrees(-1, 1, 1, 1);
  slide.lower_rad = 0.0;
  slide.upper_rad = 3000.0;
  made->job.cell.arm = std::make_shared<const kinematics::ArmModel>(support::SampleArm().WithExternals(
      {{"track", ExternalSide::kTool, ExternalKind::kSlide, {0, 0, 0}, {1, 0, 0}},
       {"table", ExternalSide::kWork, ExternalKind::kTurn, {1500, 0, 0}, {0, 0, 1}}},
      {slide, support::JointInDegrees(-180, 180, 60, 120)}));
  made->run.motion.joint_margins.push_back({slide_mm, 5, 1, false});
  made->run.motion.joint_margins.push_back({RadFromDeg(turn_deg), 5, 1, false});
}

// Oracle: default margin of a slide 10 mm, which it may come nearer by 0.01 mm between
// moments; a turntable is a joint like the arm's own.
TEST(JointRangeTest, SlidesAreJudgedInMillimetres) {
  const struct {
    double slide_mm, turn_deg;
    Result result;
    const char* name;
  } rows[] = {{10.02, 40.0, Result::kPass, nullptr},
              {10.005, 40.0, Result::kUnproven, "joint 7 (track)"},
              {9.9, 40.0, Result::kFail, "joint 7 (track)"},
              {500.0, 4.9, Result::kFail, "joint 8 (table)"}};
  for (const auto& row : rows) {
    MadeRun made = MakeRun();
    GiveAxes(&made, row.slide_mm, row.turn_deg);
    const CheckResult r = Check(made, CheckJointRange);
    EXPECT_EQ(r.result, row.result) << row.slide_mm;
    if (row.name == nullptr) continue;
    EXPECT_THAT(r.where, HasSubstr(row.name));
    EXPECT_EQ(r.unit, row.turn_deg < 5.0 ? "deg" : "mm");
  }
}

TEST(JointSpeedTest, NamesTheExternalAxis) {
  MadeRun made = MakeRun();
  GiveAxes(&made, 500.0, 40.0);
  made.run.motion.demands.front().joint = 6;
  made.run.motion.demands.front().ratio = 1.5;
  EXPECT_THAT(Check(made, CheckJointSpeed).why, HasSubstr("joint 7 (track)"));
}

// An arm whose joint 3 shares a range with `ratio` * joint 2.
void GiveSumLimit(MadeRun* made, double ratio) {
  std::vector<kinematics::JointSpec> joints = support::SampleArmJoints();
  joints[2].sum_limit = kinematics::SumLimit{1, ratio, RadFromDeg(-60.0), RadFromDeg(60.0)};
  made->job.cell.arm = std::make_shared<const kinematics::ArmModel>(
      kinematics::ArmModel::FromSphericalWrist(support::SampleArmParameters(), joints));
}

// Oracle: a joint leaves the even run between moments by up to 4e-5 rad =
// 0.00229 deg (kJointChord_rad), so 5.002 deg at the moments may be less than 5.
TEST(JointRangeTest, JointMayComeNearerBetweenMoments) {
  const struct { double margin_deg; Result result; } rows[] = {
      {5.0024, Result::kPass}, {5.0022, Result::kUnproven}, {5.0, Result::kUnproven}, {4.9999, Result::kFail}};
  for (const auto& row : rows) {
    MadeRun made = MakeRun();
    made.run.motion.joint_margins[4].margin_rad = RadFromDeg(row.margin_deg);
    const CheckResult r = Check(made, CheckJointRange);
    EXPECT_EQ(r.result, row.result) << row.margin_deg;
    EXPECT_NEAR(*r.bound, 0.00229, 1e-5);
  }
}

// Oracle: joint 3 + 3 * joint 2 leaves the even run by four times as much: 0.00917
// deg. So too where joint 3 itself is the nearer at the moments.
TEST(JointRangeTest, SumMayComeNearerByBothJoints) {
  for (const bool of_sum : {true, false}) {
    for (const double ratio : {3.0, -3.0}) {
      MadeRun made = MakeRun();
      GiveSumLimit(&made, ratio);
      made.run.motion.joint_margins[2] = {RadFromDeg(5.0090), 5, 3, of_sum};
      EXPECT_EQ(Check(made, CheckJointRange).result, Result::kUnproven);
      made.run.motion.joint_margins[2].margin_rad = RadFromDeg(5.0093);
      EXPECT_EQ(Check(made, CheckJointRange).result, Result::kPass);
    }
  }
}

// Oracle: as above; joint 5 is nearer at the moments, the sum is nearer at worst.
TEST(JointRangeTest, OpenSumIsNotHiddenByANearerJoint) {
  MadeRun made = MakeRun();
  GiveSumLimit(&made, 3.0);
  made.run.motion.joint_margins[2] = {RadFromDeg(5.006), 7, 5, true};
  made.run.motion.joint_margins[4].margin_rad = RadFromDeg(5.004);
  const CheckResult r = Check(made, CheckJointRange);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_EQ(r.where, "joint 3 + 3 * joint 2, line 7");
}

TEST(JointRangeTest, SumIsCalledByItsJoints) {
  MadeRun made = MakeRun();
  GiveSumLimit(&made, 1.0);
  made.run.motion.joint_margins[2] = {RadFromDeg(1.0), 7, 5, true};
  const CheckResult r = Check(made, CheckJointRange);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("Joint 3 + joint 2 comes within 1.0 deg"));
  EXPECT_EQ(r.where, "joint 3 + joint 2, line 7");
  made.run.motion.joint_margins[2].of_sum = false;
  EXPECT_THAT(Check(made, CheckJointRange).why, HasSubstr("Joint 3 comes within"));
}

TEST(JointRangeTest, OutOfRangeIsAMarginBelowZero) {
  MadeRun made = MakeRun();
  BreakMotion(&made, PlanFaultKind::kOutOfRange);
  made.run.motion.faults[0].value = RadFromDeg(12.0);
  const CheckResult r = Check(made, CheckJointRange);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_NEAR(*r.worst, -12.0, 1e-9);
  EXPECT_NEAR(r.findings[0].value, -12.0, 1e-9);
}

TEST(JointRangeTest, NotANumberCannotHideBehindAGoodJoint) {
  for (std::size_t joint = 0; joint < 6; ++joint) {
    MadeRun made = MakeRun();
    made.run.motion.joint_margins[joint].margin_rad = kNaN;
    EXPECT_EQ(Check(made, CheckJointRange).result, Result::kUnproven) << joint;
  }
}

// Oracle: 100 % of the joint's speed with the demand's own bound.
TEST(JointSpeedTest, DemandEitherSideOfTheLimit) {
  MadeRun made = MakeRun();
  made.run.motion.demands[3] = {6, 4, 5, 0.98, 0.01};
  EXPECT_EQ(Check(made, CheckJointSpeed).result, Result::kPass);
  made.run.motion.demands[3].ratio = 1.005;
  EXPECT_EQ(Check(made, CheckJointSpeed).result, Result::kUnproven);
  made.run.motion.demands[3].ratio = 1.02;
  const CheckResult r = Check(made, CheckJointSpeed);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].text, HasSubstr("102 % of the speed of joint 6"));
  EXPECT_EQ(r.findings[0].line, 6);
  EXPECT_EQ(*r.findings[0].at_S, made.job.path[4].p_ST);
}

// Oracle: domain notes A11: at a wrist singularity the demand has no end.
TEST(JointSpeedTest, EndlessDemandFailsAndNotANumberIsUnproven) {
  MadeRun made = MakeRun();
  made.run.motion.demands[3].ratio = kInf;
  EXPECT_EQ(Check(made, CheckJointSpeed).result, Result::kFail);
  made.run.motion.demands[3].ratio = kNaN;
  EXPECT_EQ(Check(made, CheckJointSpeed).result, Result::kUnproven);
}

TEST(JointSpeedTest, OpenLineIsNotHiddenByALargerSureOne) {
  MadeRun made = MakeRun();
  made.run.motion.demands[2] = {5, 3, 3, 0.99, 1e-6};
  made.run.motion.demands[6] = {9, 7, 3, 0.7, 0.5};
  const CheckResult r = Check(made, CheckJointSpeed);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.where, HasSubstr("line 9"));
}

TEST(JointSpeedTest, NeighbouringLinesAreOneFinding) {
  MadeRun made = MakeRun();
  for (const std::size_t i : {1u, 2u, 3u, 7u}) made.run.motion.demands[i].ratio = i == 2 ? 3.0 : 2.0;
  const CheckResult r = Check(made, CheckJointSpeed);
  ASSERT_EQ(r.findings.size(), 2u);
  EXPECT_EQ(r.findings[0].lines, (std::vector<int>{4, 6}));
  EXPECT_EQ(r.findings[0].value, 300.0);
}

TEST(JointSpeedTest, PathWithoutCutsIsUnproven) {
  MadeRun made = MakeRun();
  made.run.motion.demands.clear();
  EXPECT_EQ(Check(made, CheckJointSpeed).result, Result::kUnproven);
}

TEST(PostureChangeTest, ChangeInACutIsCaught) {
  MadeRun made = MakeRun();
  for (std::size_t i = 6; i < made.run.motion.posture_per_line.size(); ++i) {
    made.run.motion.posture_per_line[i] = 5;
  }
  const CheckResult r = Check(made, CheckPostureChange);
  ASSERT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_EQ(r.findings[0].line, made.job.path[6].line);
}

TEST(PostureChangeTest, ChangeInARapidStaysQuietAndIsSaid) {
  MadeRun made = MakeRun();
  made.run.motion.posture_per_line.back() = 5;   // the last line is a rapid
  const CheckResult r = Check(made, CheckPostureChange);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("1 time"));
}

TEST(PostureChangeTest, UnknownPostureIsUnproven) {
  MadeRun made = MakeRun();
  made.run.motion.posture_per_line.pop_back();
  EXPECT_EQ(Check(made, CheckPostureChange).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
