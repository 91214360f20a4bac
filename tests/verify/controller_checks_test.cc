// Checks of what the control makes of the path: acceleration, feed, corners, time.
#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using kinematics::HeldBy;
using kinematics::PlanFaultKind;
using support::BreakMotion;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

MadeRun WithAcceleration(double ratio) {
  MadeRun made = MakeRun();
  made.run.motion.demands[4].acceleration_ratio = ratio;
  made.run.motion.demands[4].acceleration_joint = 4;
  return made;
}

TEST(JointAccelerationTest, DemandInsideTheLimitPassesOnItPendingBeyondFails) {
  EXPECT_EQ(Check(WithAcceleration(0.97), CheckJointAcceleration).result, Result::kPass);
  EXPECT_EQ(Check(WithAcceleration(0.999), CheckJointAcceleration).result, Result::kUnproven);
  const CheckResult r = Check(WithAcceleration(1.5), CheckJointAcceleration);
  ASSERT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_EQ(r.findings[0].line, 7);
  EXPECT_THAT(r.why, HasSubstr("150 % of the acceleration of joint 5"));
  EXPECT_EQ(Check(WithAcceleration(kNaN), CheckJointAcceleration).result, Result::kUnproven);
}

TEST(JointAccelerationTest, WithoutDemandsNothingIsShown) {
  MadeRun made = MakeRun();
  made.run.motion.demands.clear();
  EXPECT_EQ(Check(made, CheckJointAcceleration).result, Result::kUnproven);
  MadeRun broken = WithAcceleration(0.2);
  BreakMotion(&broken, PlanFaultKind::kOutOfReach);
  EXPECT_EQ(Check(broken, CheckJointAcceleration).result, Result::kUnproven);
}

MadeRun WithCorner(double deviation_mm) {
  MadeRun made = MakeRun();
  made.job.cell.controller.corner = kinematics::CornerRule::kBlend;
  made.job.cell.controller.corner_distance_mm = 0.5;
  made.job.accept.corner_mm = {0.1, true};
  kinematics::CornerCut corner;
  corner.line = 7;
  corner.path_index = 5;
  corner.turn_rad = kinematics::RadFromDeg(90);
  corner.start_mm = 0.5;
  corner.deviation_mm = deviation_mm;
  made.run.motion.corners = {corner};
  return made;
}

TEST(CornerRoundingTest, DeviationIsHeldAgainstTheLimit) {
  EXPECT_EQ(Check(WithCorner(0.0999), CheckCornerRounding).result, Result::kPass);
  const CheckResult r = Check(WithCorner(0.1001), CheckCornerRounding);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings.at(0).line, 7);
  EXPECT_EQ(*r.findings[0].at_S, MakeRun().job.path[5].p_ST);
  EXPECT_THAT(r.why, HasSubstr("turns by 90 deg and is passed 0.100 mm away"));
  EXPECT_EQ(Check(WithCorner(kNaN), CheckCornerRounding).result, Result::kUnproven);
}

TEST(CornerRoundingTest, CornerOfARapidLeavesNoMark) {
  MadeRun made = WithCorner(3.0);
  made.run.motion.corners[0].path_index = 0;   // a rapid
  EXPECT_EQ(Check(made, CheckCornerRounding).result, Result::kPass);
}

// A lead-in in the air: neither the line before the corner nor the one behind it
// takes material.
TEST(CornerRoundingTest, CornerInTheAirLeavesNoMark) {
  MadeRun made = WithCorner(3.0);
  for (std::size_t i = 0; i < made.run.track.sweeps.size(); ++i) {
    const int line = made.run.track.sweeps[i].line;
    if (line == 7 || line == 8) made.run.cut.contact.sweeps[i].removed_units = 0;
  }
  EXPECT_EQ(Check(made, CheckCornerRounding).result, Result::kPass);
  for (sim::SweepContact& sweep : made.run.cut.contact.sweeps) sweep.removed_units = 1;
  EXPECT_EQ(Check(made, CheckCornerRounding).result, Result::kFail);
}

TEST(CornerRoundingTest, UnsaidDistanceIsUnprovenAndExactStopPasses) {
  MadeRun made = WithCorner(0.01);
  made.job.cell.controller.corner_distance_mm.reset();
  const CheckResult unsaid = Check(made, CheckCornerRounding);
  EXPECT_EQ(unsaid.result, Result::kUnproven);
  EXPECT_THAT(unsaid.needs.at(0), HasSubstr("controller.corner.distance"));
  made.job.cell.controller.corner = kinematics::CornerRule::kExactStop;
  EXPECT_EQ(Check(made, CheckCornerRounding).result, Result::kPass);
  BreakMotion(&made, PlanFaultKind::kPostureBreak);
  EXPECT_EQ(Check(made, CheckCornerRounding).result, Result::kUnproven);
}

MadeRun WithTimes(double ideal_s, double modelled_s, double stop_each_s) {
  MadeRun made = MakeRun();
  made.run.motion.times = {ideal_s, modelled_s, stop_each_s};
  return made;
}

TEST(CycleTimeTest, BothEndsOfTheBandMustAgreeOnTheLimit) {
  MadeRun made = WithTimes(540, 600, 900);
  made.job.accept.cycle_time_min = 15.0;
  EXPECT_EQ(Check(made, CheckCycleTime).result, Result::kPass);
  made.job.accept.cycle_time_min = 14.99;
  const CheckResult open = Check(made, CheckCycleTime);
  EXPECT_EQ(open.result, Result::kUnproven);
  EXPECT_THAT(open.needs.at(0), HasSubstr("in the air"));
  made.job.accept.cycle_time_min = 9.0;
  EXPECT_EQ(Check(made, CheckCycleTime).result, Result::kUnproven);
  made.job.accept.cycle_time_min = 8.99;
  const CheckResult late = Check(made, CheckCycleTime);
  EXPECT_EQ(late.result, Result::kFail);
  EXPECT_THAT(late.why, HasSubstr("9:00 even with an ideal control"));
}

TEST(CycleTimeTest, WithoutALimitTheTimeIsToldAndMarked) {
  const CheckResult r = Check(WithTimes(540, 600, 900), CheckCycleTime);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_TRUE(r.assumed);
  EXPECT_EQ(r.worst, 10.0);
  EXPECT_THAT(r.why, HasSubstr("10:00"));
  EXPECT_THAT(r.why, HasSubstr("A real control differs"));
}

TEST(CycleTimeTest, TimesThatContradictEachOtherShowNothing) {
  EXPECT_EQ(Check(WithTimes(0, 0, 0), CheckCycleTime).result, Result::kUnproven);
  EXPECT_EQ(Check(WithTimes(700, 600, 900), CheckCycleTime).result, Result::kUnproven);
  EXPECT_EQ(Check(WithTimes(540, kNaN, 900), CheckCycleTime).result, Result::kUnproven);
  EXPECT_EQ(Check(WithTimes(540, 600, std::numeric_limits<double>::infinity()), CheckCycleTime).result,
            Result::kUnproven);
}

// Ten cut lines of 20 mm at 25 mm/s; 18,000 rpm and 2 flutes make 0.0417 mm a tooth.
MadeRun WithSlowLines(int slow, double lowest_mm_s) {
  MadeRun made = MakeRun();
  made.run.motion.line_feeds.clear();
  for (int i = 0; i < 10; ++i) {
    kinematics::LineFeed feed;
    feed.line = 3 + i;
    feed.path_index = 1 + i;
    feed.written_mm_s = 25.0;
    feed.length_mm = 20.0;
    feed.slow_mm = i < slow ? 20.0 : 0.0;
    feed.lowest_mm_s = i < slow ? lowest_mm_s : 25.0;
    feed.hold = {HeldBy::kLookAhead, -1};
    made.run.motion.line_feeds.push_back(feed);
  }
  return made;
}

TEST(FeedHeldTest, NineTenthsOfTheCutAtItsFeedPass) {
  EXPECT_EQ(Check(WithSlowLines(0, 25), CheckFeedHeld).result, Result::kPass);
  EXPECT_EQ(Check(WithSlowLines(1, 1), CheckFeedHeld).result, Result::kPass);
  MadeRun slow = WithSlowLines(2, 1);
  slow.job.cell.cutters.at(1).chip_load.reset();
  const CheckResult r = Check(slow, CheckFeedHeld);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("chip_load"));
  EXPECT_THAT(r.why, HasSubstr("look-ahead 100 %"));
}

// Oracle: chip = feed / (rpm * flutes), by hand: 12 mm/s are 0.0200 mm a tooth.
TEST(FeedHeldTest, ChipInsideItsRangeIsQuietBelowItFails) {
  MadeRun made = WithSlowLines(5, 12.1);
  made.job.cell.cutters.at(1).chip_load = sim::CellCutter::ChipLoad{0.02, 0.1};
  EXPECT_EQ(Check(made, CheckFeedHeld).result, Result::kPass);
  made.run.motion.line_feeds[2].lowest_mm_s = 11.9;
  const CheckResult r = Check(made, CheckFeedHeld);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings.at(0).line, 5);
  EXPECT_NEAR(r.findings[0].value, 60.0 * 11.9 / 36000.0, 1e-12);
  EXPECT_THAT(r.why, HasSubstr("held by look-ahead"));
}

TEST(FeedHeldTest, NothingCutShowsNothing) {
  MadeRun made = WithSlowLines(1, 20);
  made.run.motion.line_feeds[0].slow_mm = kNaN;
  EXPECT_NE(Check(made, CheckFeedHeld).result, Result::kPass);
  made.run.motion.line_feeds.clear();
  EXPECT_EQ(Check(made, CheckFeedHeld).result, Result::kUnproven);
}

TEST(JointSpeedTest, OverSpeedSaysWhatTheControlMakesOfIt) {
  MadeRun made = MakeRun();
  made.run.motion.demands[4].ratio = 1.4;
  const auto told = [&](sim::OverSpeed over_speed) {
    made.job.cell.controller_notes.over_speed = over_speed;
    return Check(made, CheckJointSpeed);
  };
  EXPECT_THAT(told(sim::OverSpeed::kStops).why, HasSubstr("stops there with an error"));
  EXPECT_THAT(told(sim::OverSpeed::kSlows).why, HasSubstr("slows down"));
  EXPECT_FALSE(told(sim::OverSpeed::kSlows).assumed);
  const CheckResult unsaid = told(sim::OverSpeed::kUnsaid);
  EXPECT_EQ(unsaid.result, Result::kFail);
  EXPECT_TRUE(unsaid.assumed);
  EXPECT_THAT(unsaid.why, HasSubstr("taken as stops"));
}

}  // namespace
}  // namespace aircut::verify
