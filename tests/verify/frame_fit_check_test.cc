#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/frame_fit.h"
#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

// Oracle for the number: twice the published target error at the farthest corner
// of the field, by the formula written out here (points (50, 50, -20/3) in the mean).
TEST(FrameFitCheckTest, MadePointsPassWithTwiceTheTargetError) {
  const MadeRun made = MakeRun();
  const CheckResult r = Check(made, CheckFrameFit);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_THAT(r.why, HasSubstr("6 points leave a residual of"));
  EXPECT_NEAR(*r.limit, 0.1, 1e-12);   // depth limit 0.3 / 3, domain notes A2
  EXPECT_TRUE(r.assumed);
  EXPECT_GT(*r.worst, 0.01);
  EXPECT_LT(*r.worst + *r.bound, 0.1);
}

TEST(FrameFitCheckTest, TypedFrameWithoutPointsIsUnproven) {
  MadeRun made = MakeRun();
  made.job.cell.fit.clear();
  made.job.cell.X_WS_typed = true;
  const CheckResult r = Check(made, CheckFrameFit);
  EXPECT_EQ(r.result, Result::kUnproven);
  ASSERT_EQ(r.needs.size(), 1u);
  EXPECT_THAT(r.needs[0], HasSubstr("workpiece.in_world.fit"));
}

TEST(FrameFitCheckTest, TwoPointsOrALineAreUnproven) {
  MadeRun made = MakeRun();
  made.job.cell.fit.resize(2);
  EXPECT_THAT(Check(made, CheckFrameFit).why, HasSubstr("2 points cannot settle"));
  made.job.cell.fit = support::FitPointsAt({{0, 0, 0}, {50, 0, 0}, {100, 0, 0}}, made.job.cell.X_WS);
  const CheckResult r = Check(made, CheckFrameFit);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("on one line"));
}

// REG-07: three points leave three numbers; a wrong height of one leaves none.
TEST(FrameFitCheckTest, ThreePointsNeverPass) {
  MadeRun made = MakeRun();
  made.job.cell.fit.resize(3);
  CheckResult r = Check(made, CheckFrameFit);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("Three points always lie on a plane"));
  made.job.cell.fit[1].p_W += Vector3d(0, 0, 2.0);   // no residual shows this
  r = Check(made, CheckFrameFit);
  EXPECT_NE(r.result, Result::kPass);
}

// Points to the last digit were computed, not touched.
TEST(FrameFitCheckTest, PointsWithoutAnyErrorAreNotBelieved) {
  MadeRun made = MakeRun();
  for (sim::FitPoint& p : made.job.cell.fit) p.p_W = made.job.cell.X_WS * p.p_S;
  const CheckResult r = Check(made, CheckFrameFit);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("never fit to the last digit"));
}

// Oracle: the point that was moved.
TEST(FrameFitCheckTest, OneWrongPointFailsByName) {
  MadeRun made = MakeRun();
  made.job.cell.fit[4].p_W += Vector3d(0.8, -0.5, 0.9);
  const CheckResult r = Check(made, CheckFrameFit);
  ASSERT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("point P5 (line 6 of the fit's table)"));
  EXPECT_TRUE(r.findings[0].at_S.has_value());
}

// Oracle: the factor that was put in.
TEST(FrameFitCheckTest, InchesForMillimetresFailAsAScale) {
  MadeRun made = MakeRun();
  for (sim::FitPoint& p : made.job.cell.fit) p.p_S /= 25.4;
  const CheckResult r = Check(made, CheckFrameFit);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("inches and millimetres"));
  EXPECT_THAT(r.findings[0].cause, HasSubstr("25.4"));
}

// A frame that was typed otherwise than it was fitted: 0.3 mm too low.
TEST(FrameFitCheckTest, TypedFrameFarFromTheFitFailsNearStaysQuiet) {
  MadeRun made = MakeRun();
  made.job.cell.X_WS_typed = true;
  made.job.cell.X_WS = kinematics::Pose(Eigen::Translation3d(0, 0, -0.3));
  CheckResult r = Check(made, CheckFrameFit);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("the controller holds differs"));
  EXPECT_NEAR(*r.worst, 0.3, 0.03);
  made.job.cell.X_WS = kinematics::Pose(Eigen::Translation3d(0, 0, -0.03));
  r = Check(made, CheckFrameFit);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
}

// FRE does not decide: the same residual is good enough among the points and not
// far away from them.
TEST(FrameFitCheckTest, SameResidualFarFromThePointsDoesNotPass) {
  MadeRun made = MakeRun();
  const double fre_mm = sim::FitFrame(made.job.cell.fit).fre_mm;
  for (sim::DesignSample& s : made.run.samples) s.ray.p_SQ += Vector3d(600, 300, 0);
  const CheckResult r = Check(made, CheckFrameFit);
  EXPECT_DOUBLE_EQ(sim::FitFrame(made.job.cell.fit).fre_mm, fre_mm);
  EXPECT_NE(r.result, Result::kPass);
  EXPECT_GT(*r.worst, 3.0 * *Check(MakeRun(), CheckFrameFit).worst);
}

// Either side of the limit; between what few points leave open it is unproven.
TEST(FrameFitCheckTest, BetweenTheTwoEndsItIsUnproven) {
  MadeRun made = MakeRun();
  const CheckResult first = Check(made, CheckFrameFit);
  made.job.accept.frame_mm = {*first.worst, true};
  EXPECT_EQ(Check(made, CheckFrameFit).result, Result::kUnproven);
  EXPECT_FALSE(Check(made, CheckFrameFit).needs.empty());
  made.job.accept.frame_mm = {*first.worst + *first.bound + 1e-9, true};
  EXPECT_EQ(Check(made, CheckFrameFit).result, Result::kPass);
  made.job.accept.frame_mm = {0.5 * *first.worst, true};
  EXPECT_EQ(Check(made, CheckFrameFit).result, Result::kFail);
}

TEST(FrameFitCheckTest, NotANumberNeverPasses) {
  MadeRun made = MakeRun();
  made.job.cell.X_WS.translation().x() = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Check(made, CheckFrameFit).result, Result::kUnproven);
}

// Property: nothing depends on where the world's origin is.
TEST(FrameFitCheckTest, MovingTheWholeCellChangesNothing) {
  MadeRun made = MakeRun();
  made.job.cell.X_WS = kinematics::Pose(Eigen::Translation3d(0, 0, -0.03));
  const CheckResult before = Check(made, CheckFrameFit);
  kinematics::Pose X = kinematics::Pose::Identity();
  X.translate(Vector3d(900, -200, 700));
  X.rotate(Eigen::AngleAxisd(1.1, Vector3d(1, 2, 3).normalized()));
  made.job.cell.X_WS = X * made.job.cell.X_WS;
  for (sim::FitPoint& p : made.job.cell.fit) p.p_W = X * p.p_W;
  const CheckResult after = Check(made, CheckFrameFit);
  EXPECT_EQ(after.result, before.result);
  EXPECT_NEAR(*after.worst, *before.worst, 1e-9);
}

}  // namespace
}  // namespace aircut::verify
