#include "verify/side_moves.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/cell_tables.h"
#include "tests/support/made_run.h"
#include "tests/support/tiny_job.h"
#include "verify/side_files.h"

namespace aircut::verify {
namespace {

using kinematics::PlanFaultKind;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

sim::SideResult Side(const std::string& name, int path_index, double margin_deg) {
  sim::SideResult side;
  side.move.name = name;
  side.move.line = 2 + path_index;
  side.move.path_index = path_index;
  side.move.track.time_s = {0.0, 1.0};
  side.move.margin = {kinematics::RadFromDeg(margin_deg), side.move.line, path_index, false};
  side.move.margin_joint = 4;
  return side;
}

void Break(sim::SideResult* side, PlanFaultKind kind) {
  side->move.track = {};
  kinematics::PlanFault fault;
  fault.kind = kind;
  fault.line = side->move.line;
  fault.path_index = side->move.path_index;
  fault.value = 0.05;
  fault.text = "The " + side->move.name + " cannot be made.";
  side->move.fault = fault;
}

MadeRun WithSides() {
  MadeRun made = MakeRun();
  sim::RestartRun restarts;
  restarts.back_mm = 50.0;
  restarts.cuts = 1;
  restarts.cut_lines = 10;
  restarts.restarts = {Side("restart at line 3", 1, 20.0)};
  restarts.withdrawals = {Side("withdrawal from line 3", 1, 20.0), Side("withdrawal from line 12", 10, 20.0)};
  made.run.restarts = restarts;
  return made;
}

TEST(SideMovesTest, SolvedOnesLeaveThePassAndAreCounted) {
  const MadeRun made = WithSides();
  EXPECT_EQ(Check(made, CheckReach).result, Result::kPass);
  EXPECT_THAT(Check(made, CheckReach).why, HasSubstr("1 restart of 1 cut and drawing back by 50.0 mm from 2 of 10 cut lines"));
  EXPECT_EQ(Check(made, CheckJointRange).result, Result::kPass);
}

TEST(SideMovesTest, OneThatIsNotReachedFailsReach) {
  for (const PlanFaultKind kind : {PlanFaultKind::kOutOfReach, PlanFaultKind::kAtSingularity}) {
    MadeRun made = WithSides();
    Break(&made.run.restarts->withdrawals[1], kind);
    const CheckResult r = Check(made, CheckReach);
    EXPECT_EQ(r.result, Result::kFail);
    ASSERT_EQ(r.findings.size(), 1u);
    EXPECT_EQ(r.findings[0].line, 12);
    EXPECT_EQ(*r.findings[0].at_S, made.job.path[10].p_ST);
    EXPECT_THAT(r.findings[0].text, HasSubstr("withdrawal from line 12"));
    EXPECT_EQ(Check(made, CheckJointRange).result, Result::kPass);
  }
}

TEST(SideMovesTest, OneThatLeavesARangeFailsJointRange) {
  MadeRun made = WithSides();
  Break(&made.run.restarts->restarts[0], PlanFaultKind::kOutOfRange);
  const CheckResult r = Check(made, CheckJointRange);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.why, HasSubstr("restart at line 3"));
  EXPECT_EQ(Check(made, CheckReach).result, Result::kPass);
}

// Oracle: the limit of 5 degrees, both sides; the bound of a joint between moments is
// 0.0023 degrees.
TEST(SideMovesTest, MarginsOfSideMovesCount) {
  const std::pair<double, Result> cases[] = {{5.01, Result::kPass}, {5.001, Result::kUnproven}, {4.9, Result::kFail}};
  for (const auto& [margin_deg, result] : cases) {
    MadeRun made = WithSides();
    made.run.restarts->withdrawals[0] = Side("withdrawal from line 3", 1, margin_deg);
    const CheckResult r = Check(made, CheckJointRange);
    EXPECT_EQ(r.result, result) << margin_deg;
    if (result == Result::kPass) continue;
    EXPECT_THAT(r.why, HasSubstr("withdrawal from line 3"));
    EXPECT_EQ(r.where, "joint 5, withdrawal from line 3");
  }
}

TEST(SideMovesTest, ClashNamesTheMoveInsteadOfATime) {
  MadeRun made = WithSides();
  sim::PairClearance pair = made.run.clearances[0];
  pair.clearance_mm = -3.0;
  pair.line = 12;
  pair.during = "withdrawal from line 12";
  made.run.clearances.push_back(pair);
  const CheckResult r = Check(made, CheckClash);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_THAT(r.findings[0].text, HasSubstr("would collide at withdrawal from line 12,"));
  EXPECT_FALSE(r.findings[0].time_s);
  EXPECT_EQ(r.findings[0].line, 12);
}

// Oracle: the values that went in, a word for each way a move can end.
TEST(SideMovesTest, TableSaysHowEachEnded) {
  MadeRun made = WithSides();
  kinematics::JointVector q(2);
  q << kinematics::RadFromDeg(10.0), kinematics::RadFromDeg(-20.0);
  made.run.motion.tracks[0].q = {q, q};
  sim::RestartRun& r = *made.run.restarts;
  const auto near = [&](sim::SideResult* side, double clearance_mm, double bound_mm) {
    side->move.q_line = side->move.q_back = q;
    side->nearest = made.run.clearances[0];
    side->nearest->clearance_mm = clearance_mm;
    side->nearest->bound_mm = bound_mm;
  };
  near(&r.restarts[0], 12.5, 0.25);
  near(&r.withdrawals[0], -1.0, 0.0);
  near(&r.withdrawals[1], 0.25, 0.5);
  r.withdrawals.push_back(Side("withdrawal from line 5", 3, 20.0));
  Break(&r.withdrawals[2], PlanFaultKind::kOutOfReach);
  r.withdrawals[2].move.q_line = q;
  const std::string text = RestartsCsv(made.run, nullptr);
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  ASSERT_EQ(lines.size(), 6u);
  EXPECT_EQ(lines[1], "kind,line,posture,at_q1_deg,at_q2_deg,back_q1_deg,back_q2_deg,apart_at_least_mm,result");
  EXPECT_THAT(lines[2], HasSubstr("restart,3,0,10,"));
  EXPECT_THAT(lines[2], testing::EndsWith(",12.25,\"clear\""));
  EXPECT_THAT(lines[3], testing::EndsWith(",-1.00,\"clash: body 0 and body 1\""));
  EXPECT_THAT(lines[4], testing::EndsWith(",-0.25,\"too near to tell: body 0 and body 1\""));
  EXPECT_THAT(lines[5], testing::EndsWith(",,,,\"out of reach\""));
}

// Oracle: the moments that went in, through our own reader of joint values; it knows
// no time and no line, so those columns are taken off.
TEST(SideMovesTest, JointTableReadsBackToTheMoments) {
  kinematics::MotionTrack track;
  for (int i = 0; i < 50; ++i) {
    kinematics::JointVector q(6);
    for (Eigen::Index j = 0; j < 6; ++j) q[j] = std::sin(0.37 * i + 1.1 * static_cast<double>(j)) * 2.5;
    track.q.push_back(q);
    track.time_s.push_back(0.1 * i);
    track.line.push_back(i);
  }
  std::istringstream in(JointTable(track, nullptr));
  std::string joints;
  for (std::string line; std::getline(in, line);) {
    const std::size_t first = line.find(',') + 1;
    joints += line.substr(first, line.rfind(',') - first) + "\n";
  }
  const test::TempFolder folder;
  const std::vector<sim::RunsAs::LogRow> rows =
      sim::ReadJointLog(folder.Write("joints.csv", joints), std::vector<bool>(6));
  ASSERT_EQ(rows.size(), track.q.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    EXPECT_LE((rows[i].q - track.q[i]).cwiseAbs().maxCoeff(), 1e-15) << i;
  }
}

// Oracle: by hand. A slide stands in millimetres, as it is; a turn in degrees.
TEST(SideMovesTest, SlidesStandInMillimetres) {
  kinematics::MotionTrack track;
  kinematics::JointVector q = kinematics::JointVector::Constant(7, kinematics::RadFromDeg(45));
  q[6] = 1234.5;
  track.q = {q};
  track.time_s = {0.0};
  track.line = {3};
  const kinematics::ArmModel arm = support::SampleArm().WithExternals(
      {{"track", kinematics::ExternalSide::kTool, kinematics::ExternalKind::kSlide, {0, 0, 0}, {1, 0, 0}}},
      {support::JointInDegrees(-180, 180, 60, 120)});
  EXPECT_EQ(JointTable(track, &arm),
            "time_s,q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,q7_mm,line\n0,45,45,45,45,45,45,1234.5,3\n");
}

}  // namespace
}  // namespace aircut::verify
