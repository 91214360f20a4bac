// Checks of the wrist: nearness to singular places, winding.
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "tests/support/made_run.h"
#include "tests/support/sample_arm.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using support::MakeRun;
using support::PanelFromDeg;
using testing::HasSubstr;

// A made run whose joints pass through `postures_deg`, one a path line.
MadeRun WithPostures(const std::vector<std::vector<double>>& postures_deg) {
  MadeRun made = MakeRun();
  kinematics::MotionTrack& track = made.run.motion.tracks[0];
  track = {};
  for (std::size_t i = 0; i < postures_deg.size(); ++i) {
    track.time_s.push_back(static_cast<double>(i));
    track.q.push_back(PanelFromDeg(postures_deg[i]));
    track.line.push_back(3 + static_cast<int>(i));
    track.path_index.push_back(1 + static_cast<int>(i));
    track.phase.push_back(kinematics::Phase::kCut);
  }
  return made;
}

std::vector<double> Bent(double wrist_deg) { return {10, 20, 30, 15, wrist_deg, 40}; }

// Oracle: the wrist bend is the panel value of joint 5 of this arm.
TEST(SingularityTest, NamesTheLineWithTheStraightestWrist) {
  const CheckResult r = Check(WithPostures({Bent(60), Bent(12), Bent(45)}), CheckSingularity);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_TRUE(r.assumed);
  EXPECT_THAT(r.why, HasSubstr("line 4"));
  EXPECT_THAT(r.why, HasSubstr("wrist bent by 12.0 deg"));
  EXPECT_GT(*r.worst, 0.0);
}

TEST(SingularityTest, FailsWhereItCostsSpeedOrMissesTheLimit) {
  MadeRun made = WithPostures({Bent(60), Bent(3), Bent(45)});
  made.run.motion.demands[1].ratio = 1.7;   // line 4
  const CheckResult costs = Check(made, CheckSingularity);
  ASSERT_EQ(costs.result, Result::kFail);
  EXPECT_EQ(costs.findings.at(0).line, 4);
  made.run.motion.demands[1].ratio = 0.7;
  EXPECT_EQ(Check(made, CheckSingularity).result, Result::kPass);
  made.job.accept.singular_value = 10.0;
  EXPECT_EQ(Check(made, CheckSingularity).result, Result::kFail);
}

TEST(SingularityTest, WithoutJointsNothingIsShown) {
  MadeRun made = WithPostures({Bent(30), Bent(40)});
  made.run.motion.tracks[0].q.clear();
  EXPECT_EQ(Check(made, CheckSingularity).result, Result::kUnproven);
  made.run.motion.tracks[0].q.assign(2, PanelFromDeg(Bent(30)));
  made.run.motion.tracks[0].phase.assign(2, kinematics::Phase::kApproach);
  EXPECT_EQ(Check(made, CheckSingularity).result, Result::kUnproven);
}

// Margins of the made run are 20 deg for joint 1 up to 25 deg for joint 6.
TEST(WristWindingTest, MarginOfTenDegreesIsKept) {
  MadeRun made = WithPostures({Bent(30), Bent(40)});
  EXPECT_EQ(Check(made, CheckWristWinding).result, Result::kPass);
  made.run.motion.joint_margins[5].margin_rad = kinematics::RadFromDeg(9.9);
  const CheckResult r = Check(made, CheckWristWinding);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.where, HasSubstr("joint 6"));
  made.run.motion.joint_margins[5].margin_rad = std::nan("");
  EXPECT_NE(Check(made, CheckWristWinding).result, Result::kPass);
}

TEST(WristWindingTest, HoseBearsNoMoreTwistThanItsLimit) {
  MadeRun made = WithPostures({{0, 0, 0, 0, 30, 0}, {0, 0, 0, 140, 30, 140}, {0, 0, 0, 100, 30, -100}});
  made.job.cell.hose = sim::Declared::kNone;
  EXPECT_EQ(Check(made, CheckWristWinding).result, Result::kPass);
  made.job.cell.hose = sim::Declared::kUnsaid;
  EXPECT_EQ(Check(made, CheckWristWinding).result, Result::kUnproven);
  made.job.cell.hose = sim::Declared::kGiven;
  const CheckResult r = Check(made, CheckWristWinding);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings.at(0).line, 4);
  EXPECT_NEAR(r.findings[0].value, 280.0, 1e-9);
  made.job.accept.wrist_twist_deg = {281.0, true};
  EXPECT_EQ(Check(made, CheckWristWinding).result, Result::kPass);
}

}  // namespace
}  // namespace aircut::verify
