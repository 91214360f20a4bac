#include "kinematics/external_axes.h"

#include <cmath>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/arm_suspects.h"
#include "kinematics/curve_stretches.h"
#include "kinematics/jacobian.h"
#include "kinematics/joint_move.h"
#include "kinematics/joint_rates.h"
#include "kinematics/joint_room.h"
#include "kinematics/restart_planner.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

using Eigen::Vector3d;

// Joints far from singular places repeat like this when a pose comes about another way.
constexpr double kSameJoints_rad = 1e-9;

JointSpec Spec(double lower, double upper, double speed, double acceleration, double sign = 1.0,
               double zero = 0.0) {
  JointSpec joint;
  joint.lower_rad = lower;
  joint.upper_rad = upper;
  joint.speed_rad_s = speed;
  joint.acceleration_rad_s2 = acceleration;
  joint.sign = sign;
  joint.zero_rad = zero;
  return joint;
}

ExternalAxis Track(const Vector3d& along = Vector3d::UnitY()) {
  return {"track", ExternalSide::kTool, ExternalKind::kSlide, Vector3d::Zero(), along};
}

ExternalAxis Table(const Vector3d& p_B = {1500, 0, 0}, const Vector3d& axis_B = Vector3d::UnitZ()) {
  return {"table", ExternalSide::kWork, ExternalKind::kTurn, p_B, axis_B};
}

JointSpec TrackSpec() { return Spec(-500, 3000, 800, 1500); }
JointSpec TableSpec() { return Spec(-kPi, kPi, 1.0, 2.0); }

JointVector Values(std::initializer_list<double> values) {
  JointVector q(static_cast<Eigen::Index>(values.size()));
  Eigen::Index i = 0;
  for (const double value : values) q[i++] = value;
  return q;
}

// A request whose home stands where the external axes do, so that only the arm moves.
PlanRequest RequestAt(const ArmModel& arm, const JointVector& external) {
  PlanRequest request = Request(arm, WavyRows(2, 20));
  request.external = external;
  JointVector home(6 + external.size());
  home << request.home, external;
  request.home = home;
  return request;
}

void ExpectSameArmMotion(const Motion& a, const Motion& b) {
  ASSERT_TRUE(a.complete());
  ASSERT_TRUE(b.complete());
  const MotionTrack &ta = a.tracks[0], &tb = b.tracks[0];
  ASSERT_EQ(ta.size(), tb.size());
  for (std::size_t m = 0; m < ta.size(); ++m) {
    ASSERT_LT((ta.q[m].head<6>() - tb.q[m].head<6>()).lpNorm<Eigen::Infinity>(), kSameJoints_rad) << m;
    ASSERT_NEAR(ta.time_s[m], tb.time_s[m], 1e-6) << m;
    ASSERT_LT((ta.X_ST[m].matrix() - tb.X_ST[m].matrix()).norm(), 1e-6) << m;
  }
  EXPECT_EQ(a.posture_per_line, b.posture_per_line);
}

// Closed form: an arm driven 700 mm along its track to work that stands 700 mm
// farther does what it did before.
TEST(ExternalAxesTest, WorkMovedWithTheTrackGivesTheSameJoints) {
  const ArmModel plain = InventedArm::Make();
  const ArmModel arm = plain.WithExternals({Track()}, {TrackSpec()});
  PlanRequest moved = RequestAt(arm, Values({700}));
  moved.X_BS = Eigen::Translation3d(0, 700, 0) * moved.X_BS;
  ExpectSameArmMotion(PlanMotion(moved), PlanMotion(RequestAt(plain, JointVector(0))));
}

// Closed form: work turned by the table is work that stands turned; seen from the
// work the tool does the same, whatever the table.
TEST(ExternalAxesTest, TableTurnedIsWorkThatStandsTurned) {
  const ArmModel plain = InventedArm::Make();
  const double turn_rad = 0.4;
  const ArmModel arm = plain.WithExternals({Table()}, {TableSpec()});
  PlanRequest standing = RequestAt(plain, JointVector(0));
  standing.X_BS = Eigen::Translation3d(1500, 0, 0) * Eigen::AngleAxisd(turn_rad, Vector3d::UnitZ()) *
                  Eigen::Translation3d(-1500, 0, 0) * standing.X_BS;
  ExpectSameArmMotion(PlanMotion(RequestAt(arm, Values({turn_rad}))), PlanMotion(standing));
  // And a table that counts the other way, from another zero.
  const ArmModel other = plain.WithExternals({Table()}, {Spec(-3, 3, 1, 2, -1.0, 0.1)});
  ExpectSameArmMotion(PlanMotion(RequestAt(other, Values({-0.3}))), PlanMotion(standing));
}

// Closed form: home elsewhere makes the axes run in the approach and nowhere else.
TEST(ExternalAxesTest, AxesRunBetweenHomeAndPathOnly) {
  const ArmModel arm = InventedArm::Make().WithExternals({Track(), Table()}, {TrackSpec(), TableSpec()});
  PlanRequest request = RequestAt(arm, Values({200, 0.3}));
  request.home.tail<2>() << -100, -0.2;
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  for (std::size_t m = 1; m < track.size(); ++m) {
    const bool on_path = track.phase[m] == Phase::kCut || track.phase[m] == Phase::kRapid;
    if (on_path) {
      EXPECT_EQ(track.q[m].tail<2>(), request.external) << m;
    }
    for (const Eigen::Index j : {6, 7}) {
      const double speed =
          std::abs(track.q[m][j] - track.q[m - 1][j]) / (track.time_s[m] - track.time_s[m - 1]);
      const JointSpec& spec = arm.joints()[static_cast<std::size_t>(j)];
      if (track.q[m][j] != track.q[m - 1][j]) {
        EXPECT_LE(speed, spec.speed_rad_s * (1 + 1e-6)) << m;
      }
    }
    const JointVector e = ExternalPart(arm, track.q[m]);
    const Pose X_ST =
        (TableMotion(arm, e) * request.X_BS).inverse() * FlangePose(arm, track.q[m]) * SpindleInFlange();
    EXPECT_LT((X_ST.matrix() - track.X_ST[m].matrix()).norm(), 1e-9) << m;
  }
  EXPECT_EQ(track.q.front(), request.home);
  EXPECT_EQ(track.q.back(), request.home);
  EXPECT_NEAR(motion.joint_margins[6].margin_rad, 400.0, 1e-9);  // home at -100, end at -500
  EXPECT_NEAR(motion.joint_margins[7].margin_rad, kPi - 0.3, 1e-9);
}

// Oracle: central differences of forward kinematics; error h^2 times 3 m.
TEST(ExternalAxesTest, JacobianHoldsTheAxesUnderTheArm) {
  const Vector3d tilted = Vector3d(1, 2, 3).normalized();
  const ArmModel arm = InventedArm::Make().WithExternals(
      {Track(tilted),
       {"turn", ExternalSide::kTool, ExternalKind::kTurn, {300, -200, 50}, Vector3d(0, 1, 4).normalized()}},
      {Spec(-2000, 2000, 1, 1, -1.0, 30.0), Spec(-2, 2, 1, 1)});
  std::mt19937_64 rng(21);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  for (int trial = 0; trial < 50; ++trial) {
    JointVector q(8);
    for (Eigen::Index j = 0; j < 8; ++j) q[j] = unit(rng) * (j == 6 ? 900.0 : 1.5);
    const Vector3d p_FQ = 300.0 * Vector3d(unit(rng), unit(rng), unit(rng));
    const Jacobian J = GeometricJacobian(arm, q, p_FQ);
    const Eigen::Matrix3d R_BF = FlangePose(arm, q).linear();
    for (Eigen::Index j = 0; j < 8; ++j) {
      const double h = j == 6 ? 1e-2 : 1e-5;
      JointVector ahead = q, behind = q;
      ahead[j] += h;
      behind[j] -= h;
      const Pose X1 = FlangePose(arm, ahead), X0 = FlangePose(arm, behind);
      const Vector3d v = (X1 * p_FQ - X0 * p_FQ) / (2 * h);
      const Eigen::Matrix3d spin = (X1.linear() - X0.linear()) * R_BF.transpose() / (2 * h);
      EXPECT_LT((J.col(j).head<3>() - v).norm(), 2e-6) << trial << " joint " << j + 1;
      EXPECT_LT((J.col(j).tail<3>() - Vector3d(spin(2, 1), spin(0, 2), spin(1, 0))).norm(), 2e-9) << trial;
    }
  }
}

// Oracle: differences of the joints themselves along a straight move on which both
// axes run. The closed form gives the joints, nothing here knows a Jacobian.
TEST(ExternalAxesTest, RatesFollowAMoveOnWhichTheAxesRun) {
  const ArmModel arm = InventedArm::Make().WithExternals({Track(), Table()}, {TrackSpec(), TableSpec()});
  const BranchFollower follower(arm);
  PlanRequest request = RequestAt(arm, Values({0, 0}));
  const Pose X_ST0 = MakePose(RotationFromAxis(Vector3d::UnitZ(), Vector3d::UnitX()), {0, -50, 0});
  const Pose X_ST1 =
      MakePose(RotationFromAxis(Vector3d(0.1, 0.2, 1).normalized(), Vector3d::UnitX()), {30, 60, 10});
  const StraightMove move(request.X_BS, SpindleInFlange(), X_ST0, X_ST1,
                          {&arm, Values({-40, 0.0}), Values({90, 0.25})});
  const PoseSolutions start = follower.Solve(move.FlangePose(0.0), move.External(0.0));
  int followed = 0;
  for (int posture = 0; posture < 8; ++posture) {
    const auto q0 = follower.Near(start, posture, request.home);
    if (!q0 || start.wrist_sin[static_cast<std::size_t>(posture)] < 0.1) continue;
    const CurveTask task{arm, follower, move, posture};
    const double h = 1e-4;
    for (const double share : {0.2, 0.5, 0.8}) {
      const auto here = StationAt(task, share, *q0), before = StationAt(task, share - h, *q0),
                 after = StationAt(task, share + h, *q0);
      ASSERT_TRUE(here && before && after && here->rates);
      const JointVector slope = (after->q - before->q) / (2 * h * move.length());
      EXPECT_LT((*here->rates - slope).lpNorm<Eigen::Infinity>(), 1e-6) << posture << " at " << share;
    }
    ++followed;
  }
  EXPECT_GE(followed, 2);
}

// Oracle: central differences of the tip's place in the work.
TEST(ExternalAxesTest, TipSpeedIsSeenFromTheWork) {
  const ArmModel arm = InventedArm::Make().WithExternals(
      {Track(Vector3d(1, 2, 3).normalized()), Table({1500, 100, 0}, Vector3d(0, 1, 3).normalized())},
      {Spec(-3000, 3000, 1, 1, -1.0, 40.0), Spec(-3, 3, 1, 1, -1.0, 0.2)});
  const Vector3d p_FT = SpindleInFlange().translation();
  std::mt19937_64 rng(22);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  for (int trial = 0; trial < 50; ++trial) {
    JointVector q(8), qd(8);
    for (Eigen::Index j = 0; j < 8; ++j) {
      q[j] = unit(rng) * (j == 6 ? 900.0 : 1.5);
      qd[j] = unit(rng) * (j == 6 ? 500.0 : 1.0);
    }
    const auto tip = [&](double t) -> Vector3d {
      const JointVector at = q + t * qd;
      return TableMotion(arm, ExternalPart(arm, at)).inverse() * (FlangePose(arm, at) * p_FT);
    };
    const double h = 1e-5;
    EXPECT_NEAR(JointRates(arm, q, p_FT).TipSpeed(qd), (tip(h) - tip(-h)).norm() / (2 * h), 1e-4) << trial;
  }
}

// Closed form: a tip that stands in the room runs on a circle of 500 mm as the table
// turns under it, seen from the work; its chord between moments sags r (1 - cos(step / 2)).
TEST(ExternalAxesTest, MomentsOfAJointMoveBoundTheSagSeenFromTheWork) {
  const ArmModel arm = InventedArm::Make();
  const JointVector q = Joints6({0, 10, 60, 0, 40, 0});
  const Vector3d p_FT = SpindleInFlange().translation();
  const Vector3d tip = FlangePose(arm, q) * p_FT;
  const ArmModel turned = arm.WithExternals({Table(tip - Vector3d(500, 0, 0))}, {TableSpec()});
  JointMove move{JointVector(7), JointVector(7)};
  move.q_from << q, 0.0;
  move.q_to << q, 1.0;
  double from = 0.0, widest = 0.0;
  for (const double share : SampleJointMove(turned, move, p_FT, 0.01)) {
    widest = std::max(widest, share - from);
    from = share;
  }
  EXPECT_EQ(from, 1.0);
  EXPECT_LE(500 * (1 - std::cos(widest / 2)), 0.01 + 1e-9);
  EXPECT_GT(500 * (1 - std::cos(widest / 2)), 0.001);
}

// Oracle: the read-outs of an arm whose track counts the other way.
TEST(ExternalAxesTest, ReadoutsTellTheSignAndZeroOfATrack) {
  const ArmModel model = InventedArm::Make().WithExternals({Track(), Table()}, {TrackSpec(), TableSpec()});
  JointSpec backwards = TrackSpec();
  backwards.sign = -1.0;
  const ArmModel real = InventedArm::Make().WithExternals({Track(), Table()}, {backwards, TableSpec()});
  JointSpec shifted = TrackSpec();
  shifted.zero_rad = 12.5;
  const ArmModel moved = InventedArm::Make().WithExternals({Track(), Table()}, {shifted, TableSpec()});
  std::vector<ArmReadout> of_real, of_moved;
  for (const double s : {100.0, 450.0, 900.0, 1300.0}) {
    JointVector q(8);
    q << Joints6({s / 20, -10 + s / 40, 40 - s / 30, s / 25, 60 - s / 50, -s / 30}), s, 0.2;
    of_real.push_back({q, FlangePose(real, q)});
    of_moved.push_back({q, FlangePose(moved, q)});
  }
  const std::vector<Suspect> sign = RankSuspects(model, of_real), zero = RankSuspects(model, of_moved);
  ASSERT_FALSE(sign.empty());
  EXPECT_EQ(sign.front().kind, SuspectKind::kSign);
  EXPECT_EQ(sign.front().joint, 6);
  ASSERT_FALSE(zero.empty());
  EXPECT_EQ(zero.front().kind, SuspectKind::kZero);
  EXPECT_EQ(zero.front().joint, 6);
  EXPECT_NEAR(zero.front().amount, 12.5, 1e-6);
  // A table does not show in the flange's pose, so nothing is asked of it.
  for (const Visibility& v : VisibilityOf(model, of_real)) EXPECT_NE(v.joint, 7);
}

TEST(ExternalAxesTest, FaultsAndNamesSpeakOfMillimetres) {
  const ArmModel arm = InventedArm::Make().WithExternals({Track(), Table()}, {TrackSpec(), TableSpec()});
  EXPECT_EQ(NameOfJoint(arm, 6), "joint 7 (track)");
  EXPECT_EQ(NameOfJoint(arm, 2), "joint 3");
  EXPECT_EQ(ShownOf(arm, 6, 12.5), "12.50 mm");
  EXPECT_EQ(ShownOf(arm, 7, kPi / 2), "90.00 deg");
  PlanRequest request = RequestAt(arm, Values({0, 0}));
  JointVector beyond = request.home;
  beyond[6] = 3010;
  request.approach = {beyond};
  const Motion motion = PlanMotion(request);
  ASSERT_FALSE(motion.faults.empty());
  EXPECT_EQ(motion.faults.front().joint, 6);
  EXPECT_EQ(motion.faults.front().text,
            "Approach 1: joint 7 (track) would have to go to 3010.00 mm, 10.00 mm beyond its range of "
            "-500.00 mm to "
            "3000.00 mm.");
}

// Oracle: the motion itself. Side moves keep the axes where the path has them.
TEST(ExternalAxesTest, RestartsKeepTheAxesOfThePath) {
  const ArmModel arm = InventedArm::Make().WithExternals({Track(), Table()}, {TrackSpec(), TableSpec()});
  PlanRequest request = RequestAt(arm, Values({200, 0.3}));
  request.home.tail<2>() << 0, 0;
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const SidePlanner planner(request, motion, 30.0);
  const SideMove restart = planner.Restart(1), withdrawal = planner.Withdrawal(5);
  for (const SideMove* move : {&restart, &withdrawal}) {
    ASSERT_FALSE(move->fault) << move->fault->text;
    EXPECT_LT((move->q_line.tail<2>() - request.external).norm(), 1e-12);
    EXPECT_LT((move->q_back.tail<2>() - request.external).norm(), 1e-12);
    EXPECT_LT(move->margin_joint, 6);
  }
  EXPECT_EQ(restart.track.q.front(), request.home);
}

}  // namespace
}  // namespace aircut::kinematics
