#include <algorithm>
#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/logged_walk.h"

namespace aircut::verify {
namespace {

using kinematics::JointVector;
using kinematics::RadFromDeg;
using sim::RunsAs;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using support::PanelFromDeg;
using testing::HasSubstr;

constexpr int kPerLine = 20;   // moments on the way to a line

// Made-up joints on the way: joint 1 goes to and fro, joint 2 creeps on, the wrist turns.
JointVector JointsAt(double line) {
  return PanelFromDeg({10.0 + 4.0 * std::sin(2.0 * line), 20.0 + 0.8 * line, 30.0, 40.0,
                       50.0 - 0.5 * line, 60.0 + 2.0 * line});
}

// A main track with a way there (40 moments), the path and a way back.
MadeRun RunWithJoints() {
  MadeRun made = MakeRun();
  kinematics::MotionTrack track;
  track.name = "main";
  const int lines = static_cast<int>(made.job.path.size());
  const auto add = [&](const JointVector& q, int path_index) {
    track.time_s.push_back(static_cast<double>(track.time_s.size()));
    track.q.push_back(q);
    track.path_index.push_back(path_index);
    track.line.push_back(path_index < 0 ? 0 : made.job.path[path_index].line);
  };
  const JointVector home = PanelFromDeg({0, -20, 90, 0, 0, 0});
  for (int k = 0; k < 40; ++k) add(home + (JointsAt(0) - home) * (k / 40.0), -1);
  add(JointsAt(0), 0);
  for (int i = 1; i < lines; ++i) {
    for (int k = 1; k <= kPerLine; ++k) add(JointsAt(i - 1 + double(k) / kPerLine), i);
  }
  for (int k = 1; k <= 40; ++k) add(JointsAt(lines - 1) + (home - JointsAt(lines - 1)) * (k / 40.0), -1);
  made.run.motion.tracks = {track};
  made.job.runs = {};
  made.job.runs.how = RunsAs::How::kPoses;
  return made;
}

double LastLine(const MadeRun& made) { return static_cast<double>(made.job.path.size()) - 1.0; }

// Logs between two lines at steps of their own, with a small even error.
std::vector<RunsAs::LogRow> Log(double from, double to, double step) {
  std::vector<RunsAs::LogRow> log;
  for (double at = from; at < to + 1e-9; at += step) {
    RunsAs::LogRow row;
    row.line = static_cast<int>(log.size()) + 2;
    row.q = JointsAt(at) + JointVector::Constant(6, RadFromDeg(log.size() % 2 == 0 ? 0.05 : -0.05));
    log.push_back(row);
  }
  return log;
}

TEST(JointPathCheckTest, UnsaidIsUnproven) {
  MadeRun made = RunWithJoints();
  made.job.runs.how = RunsAs::How::kUnsaid;
  const CheckResult r = Check(made, CheckJointPath);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("runs"));
}

TEST(JointPathCheckTest, JointPathOfThisRunPassesUnlessTheArmCannotFollow) {
  MadeRun made = RunWithJoints();
  made.job.runs.how = RunsAs::How::kJointPath;
  EXPECT_EQ(Check(made, CheckJointPath).result, Result::kPass);
  support::BreakMotion(&made, kinematics::PlanFaultKind::kOutOfReach);
  EXPECT_EQ(Check(made, CheckJointPath).result, Result::kUnproven);
}

TEST(JointPathCheckTest, PosesAloneAreUnproven) {
  const CheckResult r = Check(RunWithJoints(), CheckJointPath);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("read_back"));
}

TEST(JointPathCheckTest, StartPostureAsComputedIsUnprovenAnotherFails) {
  MadeRun made = RunWithJoints();
  made.job.runs.start_posture = JointsAt(0) + JointVector::Constant(6, RadFromDeg(0.99));
  CheckResult r = Check(made, CheckJointPath);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("read_back"));
  (*made.job.runs.start_posture)[3] += RadFromDeg(0.02);
  r = Check(made, CheckJointPath);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.why, HasSubstr("joint 4"));
  EXPECT_EQ(r.findings.at(0).line, 2);
}

// A full turn of the last joint is another posture: the hoses know.
TEST(JointPathCheckTest, StartWithAnotherTurnFails) {
  MadeRun made = RunWithJoints();
  made.job.runs.start_posture = JointsAt(0);
  (*made.job.runs.start_posture)[5] -= RadFromDeg(360.0);
  const CheckResult r = Check(made, CheckJointPath);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_NEAR(*r.worst, 360.0, 1e-6);
}

TEST(JointPathCheckTest, LogAlongThePathPasses) {
  MadeRun made = RunWithJoints();
  made.job.runs.read_back = Log(0.0, LastLine(made), 0.13);
  RunsAs::LogRow last = made.job.runs.read_back.back();
  last.q = JointsAt(LastLine(made));
  made.job.runs.read_back.push_back(last);
  const CheckResult r = Check(made, CheckJointPath);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  // 0.05 deg of error; the nearest moment is half a step of 4 deg / 20 off at most.
  EXPECT_GE(*r.worst, 0.049);
  EXPECT_LE(*r.worst, 0.05 + 0.5 * 8.0 / kPerLine);
}

// The way there and back, and standing still, are no part of the path.
TEST(JointPathCheckTest, WayThereAndBackAndPausesStayQuiet) {
  MadeRun made = RunWithJoints();
  auto& log = made.job.runs.read_back;
  for (int k = 0; k < 5; ++k) log.push_back({2, PanelFromDeg({0, -20, 90, 0, 0, double(k)})});
  const auto along = Log(0.0, LastLine(made), 0.1);
  for (const auto& row : along) {
    log.insert(log.end(), 3, row);
  }
  for (int k = 0; k < 5; ++k) log.push_back({999, PanelFromDeg({0, -20, 90, 0, 0, double(k)})});
  const CheckResult r = Check(made, CheckJointPath);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
}

// Oracle: the flip that was put in: wrist over at line 9 (path index 7).
TEST(JointPathCheckTest, BranchJumpFailsNamingLineAndJoint) {
  MadeRun made = RunWithJoints();
  made.job.runs.read_back = Log(0.0, LastLine(made), 0.1);
  for (std::size_t i = 65; i < 68; ++i) made.job.runs.read_back[i].q[3] -= RadFromDeg(180.0);
  const CheckResult r = Check(made, CheckJointPath);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.why, HasSubstr("Row 67"));
  EXPECT_THAT(r.why, HasSubstr("joint 4"));
  EXPECT_EQ(r.findings.at(0).line, made.job.path[7].line);
  EXPECT_TRUE(r.findings[0].at_S.has_value());
}

// Either side of the limit of 1 deg, on a joint that stands still.
TEST(JointPathCheckTest, RowEitherSideOfTheLimit) {
  MadeRun made = RunWithJoints();
  made.job.runs.read_back = Log(0.0, LastLine(made), 0.1);
  made.job.runs.read_back[40].q = JointsAt(4.0);
  made.job.runs.read_back[40].q[2] += RadFromDeg(0.99);
  EXPECT_EQ(Check(made, CheckJointPath).result, Result::kPass);
  made.job.runs.read_back[40].q[2] += RadFromDeg(0.02);
  EXPECT_EQ(Check(made, CheckJointPath).result, Result::kFail);
  made.job.accept.read_back_deg = {1.5, true};
  EXPECT_EQ(Check(made, CheckJointPath).result, Result::kPass);
}

TEST(JointPathCheckTest, LogThatEndsEarlyStartsLateOrHasAGapIsUnproven) {
  MadeRun made = RunWithJoints();
  made.job.runs.read_back = Log(0.0, 8.0, 0.1);
  CheckResult r = Check(made, CheckJointPath);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("ends on the way to"));
  made.job.runs.read_back = Log(3.0, LastLine(made), 0.1);
  r = Check(made, CheckJointPath);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("no row lies at the first line"));
  made.job.runs.read_back = Log(0.0, LastLine(made), 0.1);
  auto& log = made.job.runs.read_back;
  log.erase(log.begin() + 30, log.begin() + 60);   // the last before it: 2.9, to path index 3
  r = Check(made, CheckJointPath);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("rows are missing from the way to line 5 on"));
}

// The whole log in the wrong order is no run of this path.
TEST(JointPathCheckTest, LogRunBackwardsDoesNotPass) {
  MadeRun made = RunWithJoints();
  made.job.runs.read_back = Log(0.0, LastLine(made), 0.1);
  std::reverse(made.job.runs.read_back.begin(), made.job.runs.read_back.end());
  EXPECT_NE(Check(made, CheckJointPath).result, Result::kPass);
}

// Oracle: a wrist turned over (joint 4 and 6 by half a turn, joint 5 mirrored) brings
// the flange to the same pose: the tip is at the first line, the arm is not.
TEST(JointPathCheckTest, WholeLogInAnotherPostureFails) {
  MadeRun made = RunWithJoints();
  made.job.runs.read_back = Log(0.0, LastLine(made), 0.1);
  for (RunsAs::LogRow& row : made.job.runs.read_back) {
    row.q[3] -= RadFromDeg(180.0);
    row.q[4] = -row.q[4];
    row.q[5] -= RadFromDeg(180.0);
  }
  const CheckResult r = Check(made, CheckJointPath);
  ASSERT_EQ(r.result, Result::kFail) << r.why;
  EXPECT_THAT(r.why, HasSubstr("another posture"));
  EXPECT_EQ(r.findings.at(0).line, 2);
}

// A closed path: its first row lies at its last line as well, and proves nothing.
TEST(LoggedWalkTest, ClosedPathIsNotCoveredByItsStart) {
  PlannedJoints planned;
  for (int i = 0; i <= 72; ++i) {
    const double turn = RadFromDeg(5.0 * i);
    planned.q.push_back(PanelFromDeg({3.0 * std::cos(turn), 3.0 * std::sin(turn), 0, 0, 0, 0}));
    planned.line.push_back(i + 1);
  }
  std::vector<RunsAs::LogRow> log = {{2, planned.q[0]}, {3, planned.q[0]}};
  EXPECT_EQ(WalkLog(planned, log, RadFromDeg(1.0)).end, LoggedWalk::End::kShort);
  log.clear();
  for (int i = 0; i <= 72; i += 3) log.push_back({2 + i, planned.q[i]});
  EXPECT_EQ(WalkLog(planned, log, RadFromDeg(1.0)).end, LoggedWalk::End::kWhole);
}

TEST(LoggedWalkTest, NotANumberOrAnotherJointCountLeaves) {
  PlannedJoints planned{{JointsAt(0), JointsAt(1)}, {1, 2}};
  std::vector<RunsAs::LogRow> log = {{2, JointsAt(0)}, {3, JointsAt(0.5)}};
  log[1].q[2] = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(WalkLog(planned, log, RadFromDeg(1.0)).end, LoggedWalk::End::kLeft);
  log[1].q = JointVector::Zero(5);
  EXPECT_EQ(WalkLog(planned, log, RadFromDeg(1.0)).end, LoggedWalk::End::kLeft);
}

}  // namespace
}  // namespace aircut::verify
