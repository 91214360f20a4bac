// Oracles: a joint's lost motion times its lever, by forward kinematics.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using kinematics::JointVector;
using support::Check;
using support::MadeRun;
using testing::HasSubstr;

constexpr double kLost_rad = 1e-4;

// One moment a path moment; joint 2 goes forth and turns back before sweep 5, in the cut.
MadeRun MakeTurningBack() {
  MadeRun made = support::MakeRun();
  made.job.cell.drives.assign(6, sim::JointDrive{std::nullopt, kLost_rad});
  made.job.accept.lost_motion_mm = {0.1, true};
  kinematics::MotionTrack& track = made.run.motion.tracks[0];
  track.q.clear();
  track.time_s = made.run.track.time_s;
  for (int m = 0; m < static_cast<int>(made.run.track.time_s.size()); ++m) {
    JointVector q = support::PanelFromDeg({10, 20, 30, 15, 60, 40});
    q[1] += 1e-3 * (m <= 5 ? m : 10 - m);
    track.q.push_back(q);
  }
  track.phase.assign(track.q.size(), kinematics::Phase::kCut);
  return made;
}

double Lever_mm(const MadeRun& made) {
  const sim::Cell& cell = made.job.cell;
  const Vector3d tip_F = cell.X_FH * Vector3d(0, 0, -40);
  JointVector q = made.run.motion.tracks[0].q[5];
  const Vector3d here = kinematics::FlangePose(*cell.arm, q) * tip_F;
  q[1] += kLost_rad;
  return std::abs((kinematics::FlangePose(*cell.arm, q) * tip_F - here).z());
}

TEST(LostMotionCheckTest, JointThatTurnsBackInTheCutIsCaught) {
  MadeRun made = MakeTurningBack();
  made.job.accept.lost_motion_mm.value = 0.9 * Lever_mm(made);
  const CheckResult r = Check(made, CheckLostMotion);
  ASSERT_EQ(r.result, Result::kFail) << r.why;
  EXPECT_NEAR(*r.worst, Lever_mm(made), 1e-4 * Lever_mm(made));
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_THAT(r.findings[0].text, HasSubstr("joint 2 turns back in the cut"));
  EXPECT_EQ(r.findings[0].line, made.run.track.sweeps[5].line);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("0.31 arcmin would pass"));   // 0.9 of 0.3438
}

TEST(LostMotionCheckTest, JumpJustInsideTheLimitStaysQuiet) {
  MadeRun made = MakeTurningBack();
  made.job.accept.lost_motion_mm.value = 1.01 * Lever_mm(made);
  const CheckResult r = Check(made, CheckLostMotion);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_TRUE(r.findings.empty());
}

// The same turn with the tool in the air marks nothing.
TEST(LostMotionCheckTest, TurnInTheAirStaysQuiet) {
  MadeRun made = MakeTurningBack();
  made.job.accept.lost_motion_mm.value = 0.01;
  made.run.cut.contact.sweeps[5].removed_units = 0;
  const CheckResult r = Check(made, CheckLostMotion);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("No joint turns back"));
}

TEST(LostMotionCheckTest, SilenceIsUnprovenWithTheKey) {
  MadeRun made = MakeTurningBack();
  made.job.cell.drives[3].lost_motion_rad.reset();
  const CheckResult r = Check(made, CheckLostMotion);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs, testing::Contains(HasSubstr("lost_motion_arcmin")));
}

}  // namespace
}  // namespace aircut::verify
