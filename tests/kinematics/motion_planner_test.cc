#include "kinematics/motion_planner.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/inverse_kinematics.h"
#include "kinematics/jacobian.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

constexpr double kTipTolerance_mm = 1e-6;    // 1e-9 mm a mm of reach, 2.7 m, and sums
constexpr double kTurnTolerance_rad = 1e-8;

// Acceleration of the tip along +y that the weakest joint allows, by a solver
// of its own.
double TipAcceleration(const ArmModel& arm, const JointVector& q) {
  const Jacobian J = GeometricJacobian(arm, q, SpindleInFlange().translation());
  Eigen::Matrix<double, 6, 1> twist;
  twist << 0, 1, 0, 0, 0, 0;
  const Eigen::VectorXd rates = Eigen::MatrixXd(J).fullPivLu().solve(twist);
  double a_mm_s2 = std::numeric_limits<double>::infinity();
  for (Eigen::Index j = 0; j < 6; ++j) {
    const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
    a_mm_s2 = std::min(a_mm_s2, joint.acceleration_rad_s2 / std::abs(rates[j]));
  }
  return a_mm_s2;
}

// Time of a move of all joints in step, by the closed form of TRJ-04.
double JointMoveTime(const ArmModel& arm, const JointVector& from, const JointVector& to) {
  double v = std::numeric_limits<double>::infinity(), a = v;
  for (Eigen::Index j = 0; j < from.size(); ++j) {
    const double step_rad = std::abs(to[j] - from[j]);
    v = std::min(v, arm.joints()[static_cast<std::size_t>(j)].speed_rad_s / step_rad);
    a = std::min(a, arm.joints()[static_cast<std::size_t>(j)].acceleration_rad_s2 / step_rad);
  }
  return 1.0 >= v * v / a ? 1.0 / v + v / a : 2.0 / std::sqrt(a);
}

PlanRequest FastRows(const ArmModel& arm) {
  ToolPath path = WavyRows(4, 60);
  for (PathLine& line : path) line.feed_mm_s = line.move == MoveKind::kCut ? 600.0 : 0.0;
  return Request(arm, path);
}

void ExpectSameBits(const Motion& a, const Motion& b) {
  ASSERT_EQ(a.tracks.size(), 1u);
  ASSERT_EQ(b.tracks.size(), 1u);
  EXPECT_EQ(a.tracks[0].time_s, b.tracks[0].time_s);
  EXPECT_EQ(a.tracks[0].q, b.tracks[0].q);
  EXPECT_EQ(a.tracks[0].feed_mm_s, b.tracks[0].feed_mm_s);
  EXPECT_EQ(a.tracks[0].line, b.tracks[0].line);
}

// Oracle: geometry. The tip is on the line between two targets, the tool at the
// same share of the turn between them.
TEST(MotionPlannerTest, EveryMomentIsOnTheStraightMoveBetweenItsLines) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = WavyRows(2, 30);
  path.push_back(Line(65, {150, -100, 60}, 0, MoveKind::kRapid, {0.4, -0.3, 1}));  // a long one
  const PlanRequest request = Request(arm, path);
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  int between = 0;
  for (std::size_t m = 0; m < track.size(); ++m) {
    EXPECT_LT((track.X_BF[m].matrix() - FlangePose(arm, track.q[m]).matrix()).norm(), 1e-12);
    if (track.path_index[m] < 1) continue;
    EXPECT_LE((track.q[m] - track.q[m - 1]).lpNorm<Eigen::Infinity>(), RadFromDeg(1.0) + 1e-9);
    EXPECT_LE(Eigen::Quaterniond(track.X_ST[m].linear())
                  .angularDistance(Eigen::Quaterniond(track.X_ST[m - 1].linear())),
              RadFromDeg(0.5) + 1e-7);
    const auto i = static_cast<std::size_t>(track.path_index[m]);
    const auto pose = [&](const std::size_t k) {
      return MakePose(RotationFromAxis(path[k].axis_S, request.toward_S), path[k].p_ST);
    };
    const Pose X_ST0 = pose(i - 1), X_ST1 = pose(i);
    const Pose X_ST = request.X_BS.inverse() * FlangePose(arm, track.q[m]) * SpindleInFlange();
    const Eigen::Vector3d step = X_ST1.translation() - X_ST0.translation();
    const double share = (X_ST.translation() - X_ST0.translation()).dot(step) / step.squaredNorm();
    if (share < 0.999) ++between;
    const Eigen::Quaterniond turned =
        Eigen::Quaterniond(X_ST0.linear()).slerp(share, Eigen::Quaterniond(X_ST1.linear()));
    EXPECT_LT((X_ST.translation() - X_ST0.translation() - share * step).norm(), kTipTolerance_mm);
    EXPECT_LT(turned.angularDistance(Eigen::Quaterniond(X_ST.linear())), kTurnTolerance_rad);
    EXPECT_LT((track.X_ST[m].matrix() - X_ST.matrix()).norm(), 1e-9);
  }
  EXPECT_GT(between, 10);
}

// Oracle: the mean rate over an interval is at most the limit; mean rates of
// neighbouring intervals differ at most by the acceleration over the time
// between their middles and one controller cycle more at a corner.
// The 0.1 % is what the cubic between two stations may be off.
TEST(MotionPlannerTest, JointSpeedAndAccelerationLimitsHoldOverTheMoments) {
  const ArmModel arm = InventedArm::Make();
  for (const CornerRule corner : {CornerRule::kBlend, CornerRule::kExactStop}) {
    PlanRequest request = FastRows(arm);
    request.controller.corner = corner;
    const Motion motion = PlanMotion(request);
    ASSERT_TRUE(motion.complete());
    const MotionTrack& track = motion.tracks[0];
    JointVector rate_before = JointVector::Zero(6);
    double dt_before_s = 0.0, speed_used = 0.0, acceleration_used = 0.0;
    for (std::size_t m = 1; m < track.size(); ++m) {
      const double dt_s = track.time_s[m] - track.time_s[m - 1];
      ASSERT_GE(dt_s, 0.0);
      if (dt_s == 0.0) continue;
      const JointVector rate = (track.q[m] - track.q[m - 1]) / dt_s;
      const bool corner_between = track.path_index[m] != track.path_index[m - 1];
      const double allowed_s = 0.5 * (dt_s + dt_before_s) +
                               (corner_between ? request.controller.cycle_s : 0.0);
      for (Eigen::Index j = 0; j < 6; ++j) {
        const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
        const double speed = std::abs(rate[j]) / joint.speed_rad_s;
        const double acceleration = std::abs(rate[j] - rate_before[j]) / allowed_s /
                                    joint.acceleration_rad_s2;
        EXPECT_LE(speed, 1.001) << "moment " << m << " joint " << j + 1;
        EXPECT_LE(acceleration, 1.001) << "moment " << m << " joint " << j + 1;
        speed_used = std::max(speed_used, speed);
        acceleration_used = std::max(acceleration_used, acceleration);
      }
      rate_before = rate;
      dt_before_s = dt_s;
    }
    EXPECT_GT(speed_used, 0.9);          // both limits were met,
    EXPECT_GT(acceleration_used, 0.9);   // or the test would show nothing
  }
}

// Oracle: definition. A feed no arm can hold is cut down to a joint's speed limit.
TEST(MotionPlannerTest, LongFastCutRunsAtAJointSpeedLimit) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  for (JointSpec& joint : joints) joint.acceleration_rad_s2 *= 20.0;   // out of the way
  const ArmModel arm = InventedArm::Make(joints);
  const Motion motion = PlanMotion(Request(arm, StraightCut(2400, 1e4)));
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  double used = 0.0;
  for (std::size_t m = 1; m < track.size(); ++m) {
    if (track.phase[m] != Phase::kCut) continue;
    const double dt_s = track.time_s[m] - track.time_s[m - 1];
    for (Eigen::Index j = 0; j < 6; ++j) {
      const double limit_rad_s = arm.joints()[static_cast<std::size_t>(j)].speed_rad_s;
      used = std::max(used, std::abs(track.q[m][j] - track.q[m - 1][j]) / dt_s / limit_rad_s);
    }
  }
  EXPECT_GT(used, 0.99);
  EXPECT_LE(used, 1.0 + 1e-6);
  EXPECT_GT(motion.demands.at(0).ratio, 1.0);
}

// Oracle: closed form TRJ-04, T = d/v + v/a, with the accelerations at both
// ends from a solver of its own. Ramps are 5 ms, far below the 0.1 ms allowed
// times fifty.
TEST(MotionPlannerTest, LongStraightCutTakesDistanceOverFeedPlusRamps) {
  const ArmModel arm = InventedArm::Make();
  const double d_mm = 400.0, v_mm_s = 10.0;
  const Motion motion = PlanMotion(Request(arm, StraightCut(d_mm, v_mm_s)));
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  const std::size_t first = MomentOfLine(track, 0), last = MomentOfLine(track, 1);
  const double a0 = TipAcceleration(arm, track.q[first]), a1 = TipAcceleration(arm, track.q[last]);
  const double ramps_s = 0.5 * v_mm_s / a0 + 0.5 * v_mm_s / a1;
  EXPECT_GT(ramps_s, 1e-3);
  EXPECT_NEAR(track.time_s[last] - track.time_s[first], d_mm / v_mm_s + ramps_s, 1e-4);
  EXPECT_NEAR(motion.cut_below_feed_s, 0.9 * v_mm_s / a0 + 0.9 * v_mm_s / a1, 1e-4);
  for (std::size_t m = first + 1; m < last; ++m) EXPECT_NEAR(track.feed_mm_s[m], v_mm_s, 1e-9);
}

// Oracle: closed form of a move of all joints in step.
TEST(MotionPlannerTest, ApproachAndReturnTakeTheClosedFormTime) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, {Line(7, {0, 0, 50}, 20)});
  request.approach = {Joints6({10, -10, 20, 5, 70, 30}), Joints6({10, 0, 20, 5, 70, 30})};
  request.retreat = {Joints6({-20, -10, 30, 0, 70, -30})};
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  const JointVector q = track.q[MomentOfLine(track, 0)];
  double time_s = JointMoveTime(arm, request.home, request.approach[0]) +
                  JointMoveTime(arm, request.approach[0], request.approach[1]) +
                  JointMoveTime(arm, request.approach[1], q);
  EXPECT_NEAR(track.time_s[MomentOfLine(track, 0)], time_s, 1e-9);
  time_s += JointMoveTime(arm, q, request.retreat[0]) +
            JointMoveTime(arm, request.retreat[0], request.home);
  EXPECT_NEAR(track.time_s.back(), time_s, 1e-9);
  EXPECT_EQ(track.q.front(), request.home);
  EXPECT_EQ(track.q.back(), request.home);
  for (const JointVector& stop : {request.approach[0], request.retreat[0]}) {
    const auto at = std::find(track.q.begin(), track.q.end(), stop);
    ASSERT_NE(at, track.q.end());
    EXPECT_EQ(track.feed_mm_s[static_cast<std::size_t>(at - track.q.begin())], 0.0);
  }
}

// Oracle: dense joint interpolation between two moments.
TEST(MotionPlannerTest, TipLeavesTheChordOfAJointMoveByAtMostTheSag) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, WavyRows(2, 3));
  request.controller.rapid = RapidRule::kJoint;
  request.sag_mm = 0.05;
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  const Eigen::Vector3d p_FT = SpindleInFlange().translation();
  for (std::size_t m = 1; m < track.size(); ++m) {
    if (track.phase[m] == Phase::kCut) continue;
    const Eigen::Vector3d p0 = track.X_BF[m - 1] * p_FT, step = track.X_BF[m] * p_FT - p0;
    for (int k = 1; k < 20; ++k) {
      const JointVector q = track.q[m - 1] + (track.q[m] - track.q[m - 1]) * (k / 20.0);
      const Eigen::Vector3d spoke = FlangePose(arm, q) * p_FT - p0;
      EXPECT_LE(spoke.cross(step.normalized()).norm(), request.sag_mm) << "moment " << m;
    }
  }
}

// Oracle: the tip moves at the stated speed: distance over time of a short step.
TEST(MotionPlannerTest, FeedOfAMomentIsTheSpeedOfTheTip) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, StraightCut(300, 100));
  request.sag_mm = 1e-4;
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  int looked = 0;
  for (std::size_t m = 2; m + 2 < track.size(); ++m) {
    const double before_s = track.time_s[m] - track.time_s[m - 1];
    const double after_s = track.time_s[m + 1] - track.time_s[m];
    if (track.phase[m] != track.phase[m + 1] || before_s > 0.02 || after_s > 0.02) continue;
    const auto speed = [&](const std::size_t i, const double dt_s) {
      return (track.X_ST[i + 1].translation() - track.X_ST[i].translation()).norm() / dt_s;
    };
    const double low = std::min(speed(m - 1, before_s), speed(m, after_s));
    const double high = std::max(speed(m - 1, before_s), speed(m, after_s));
    const double slack = 0.01 * high + 1e-3;
    EXPECT_GE(track.feed_mm_s[m], low - slack) << "moment " << m;
    EXPECT_LE(track.feed_mm_s[m], high + slack) << "moment " << m;
    ++looked;
  }
  EXPECT_GT(looked, 100);
}

TEST(MotionPlannerTest, MomentsAreTaggedInOrder) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = Request(arm, WavyRows(2, 5));
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  int last_index = -1;
  Phase last_phase = Phase::kApproach;
  for (std::size_t m = 0; m < track.size(); ++m) {
    const int index = track.path_index[m];
    if (index < 0) {
      EXPECT_EQ(track.line[m], 0);
      EXPECT_TRUE(track.phase[m] == Phase::kApproach || track.phase[m] == Phase::kReturn);
      EXPECT_TRUE(last_phase == track.phase[m] || track.phase[m] == Phase::kReturn);
    } else {
      EXPECT_TRUE(index == last_index || index == last_index + 1);
      EXPECT_EQ(track.line[m], request.path[static_cast<std::size_t>(index)].line);
      last_index = index;
    }
    if (index > 0) {
      const bool cut = request.path[static_cast<std::size_t>(index)].move == MoveKind::kCut;
      EXPECT_EQ(track.phase[m], cut ? Phase::kCut : Phase::kRapid);
    }
    last_phase = track.phase[m];
  }
  EXPECT_EQ(last_index, static_cast<int>(request.path.size()) - 1);
  EXPECT_EQ(track.phase[MomentOfLine(track, 0)], Phase::kApproach);
  for (std::size_t i = 0; i < request.path.size(); ++i) {
    const std::size_t m = MomentOfLine(track, static_cast<int>(i));
    EXPECT_LT((track.X_ST[m].translation() - request.path[i].p_ST).norm(), kTipTolerance_mm);
  }
  EXPECT_EQ(track.size(), track.feed_mm_s.size());
  EXPECT_EQ(track.size(), track.X_ST.size());
}

// Oracle: the rule itself. A line in the middle of a straight cut is no corner.
TEST(MotionPlannerTest, ExactStopStandsAtEveryLineAndBlendPassesAStraightOne) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = StraightCut(100, 20);
  path.push_back(Line(3, {0, 100, 0}, 20));
  PlanRequest request = Request(arm, path);
  const Motion blend = PlanMotion(request);
  request.controller.corner = CornerRule::kExactStop;
  const Motion stop = PlanMotion(request);
  ASSERT_TRUE(blend.complete() && stop.complete());
  EXPECT_NEAR(blend.tracks[0].feed_mm_s[MomentOfLine(blend.tracks[0], 1)], 20.0, 1e-9);
  EXPECT_EQ(stop.tracks[0].feed_mm_s[MomentOfLine(stop.tracks[0], 1)], 0.0);
  EXPECT_GT(stop.tracks[0].time_s.back(), blend.tracks[0].time_s.back());
}

// Oracle: solutions a thousandth of a millimetre apart, from the closed form alone.
TEST(MotionPlannerTest, DemandMatchesTheStepBetweenNearSolutions) {
  const ArmModel arm = InventedArm::Make();
  const InverseKinematics ik(arm);
  const double feed_mm_s = 700.0, step_mm = 1e-3;
  const PlanRequest request = Request(arm, StraightCut(2.0, feed_mm_s));
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  ASSERT_EQ(motion.demands.size(), 1u);
  EXPECT_EQ(motion.demands[0].line, 2);
  EXPECT_EQ(motion.demands[0].path_index, 1);
  const auto joints = [&](const double y_mm) {
    const Pose X_ST = MakePose(RotationFromAxis(Eigen::Vector3d::UnitZ(), request.toward_S),
                               {0, y_mm, 0});
    for (const IkSolution& s : ik.Solve(request.X_BS * X_ST * SpindleInFlange().inverse())) {
      if (s.posture.id == motion.posture_per_line[1]) return s.q;
    }
    return JointVector(JointVector::Zero(6));
  };
  double largest = 0.0;
  int joint_of_largest = -1;
  for (double y_mm = -1.0; y_mm < 1.0 - step_mm; y_mm += 0.1) {
    const JointVector step = joints(y_mm + step_mm) - joints(y_mm);
    for (Eigen::Index j = 0; j < 6; ++j) {
      const double step_rad = std::abs(std::remainder(step[j], 2.0 * kPi));
      const double ratio = step_rad / step_mm * feed_mm_s /
                           arm.joints()[static_cast<std::size_t>(j)].speed_rad_s;
      if (ratio <= largest) continue;
      largest = ratio;
      joint_of_largest = static_cast<int>(j);
    }
  }
  EXPECT_NEAR(motion.demands[0].ratio, largest, 1e-4 * largest);
  EXPECT_EQ(motion.demands[0].joint, joint_of_largest);
  EXPECT_GT(motion.demands[0].ratio_bound, 0.0);
  EXPECT_LT(motion.demands[0].ratio_bound, 1e-3 * largest);
}

// Metamorphic: the same path run backwards asks the same of the joints.
TEST(MotionPlannerTest, ReversedPathHasTheSameDemands) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = WavyRows(1, 40);
  for (PathLine& line : path) line.move = MoveKind::kCut, line.feed_mm_s = 30.0;
  ToolPath reversed(path.rbegin(), path.rend());
  const Motion there = PlanMotion(Request(arm, path)), back = PlanMotion(Request(arm, reversed));
  ASSERT_EQ(there.demands.size(), path.size() - 1);
  ASSERT_EQ(back.demands.size(), path.size() - 1);
  for (std::size_t i = 0; i < there.demands.size(); ++i) {
    const JointSpeedDemand& mirrored = back.demands[back.demands.size() - 1 - i];
    EXPECT_NEAR(there.demands[i].ratio, mirrored.ratio, 1e-6 * mirrored.ratio);
  }
}

// Metamorphic: twice the feed, twice the demand.
TEST(MotionPlannerTest, DemandGrowsWithTheWrittenFeed) {
  const ArmModel arm = InventedArm::Make();
  const Motion slow = PlanMotion(Request(arm, StraightCut(50, 20)));
  const Motion fast = PlanMotion(Request(arm, StraightCut(50, 40)));
  EXPECT_NEAR(fast.demands.at(0).ratio, 2.0 * slow.demands.at(0).ratio, 1e-9);
}

// Metamorphic: arm and workpiece moved together through the cell.
TEST(MotionPlannerTest, RigidMoveOfBaseAndWorkpieceChangesNothing) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, WavyRows(2, 20));
  const Motion motion = PlanMotion(request);
  const Pose X_WB = MakePose(
      Eigen::AngleAxisd(0.7, Eigen::Vector3d(1, 2, 3).normalized()).toRotationMatrix(),
      {400, -300, 200});
  const Pose X_WS = X_WB * request.X_BS;
  request.X_BS = X_WB.inverse() * X_WS;
  const Motion moved = PlanMotion(request);
  ASSERT_TRUE(motion.complete() && moved.complete());
  ASSERT_EQ(motion.tracks[0].size(), moved.tracks[0].size());
  for (std::size_t m = 0; m < motion.tracks[0].size(); ++m) {
    EXPECT_LT((motion.tracks[0].q[m] - moved.tracks[0].q[m]).norm(), 1e-9);
    EXPECT_NEAR(motion.tracks[0].time_s[m], moved.tracks[0].time_s[m], 1e-6);
  }
}

TEST(MotionPlannerTest, SameRequestTwiceGivesTheSameBits) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = FastRows(arm);
  ExpectSameBits(PlanMotion(request), PlanMotion(request));
}

TEST(MotionPlannerTest, RepeatedLineTakesNoTime) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = StraightCut(20, 20);
  path.push_back(path.back());
  path.back().line = 3;
  const Motion motion = PlanMotion(Request(arm, path));
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  EXPECT_EQ(track.time_s[MomentOfLine(track, 1)], track.time_s[MomentOfLine(track, 2)]);
  EXPECT_EQ(track.line[MomentOfLine(track, 2)], 3);
  EXPECT_EQ(motion.demands.size(), 1u);
}

// Oracle: the tip rests, so only the joint limits time a turn of the tool.
TEST(MotionPlannerTest, PureTurnHasNoDemandAndKeepsTheTipInPlace) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = StraightCut(20, 20);
  // In rad/s the turn is faster than this feed in mm/s; it is still no travel.
  path.push_back(Line(3, path.back().p_ST, 0.01, MoveKind::kCut, {0.3, 0, 1}));
  const Motion motion = PlanMotion(Request(arm, path));
  ASSERT_TRUE(motion.complete());
  EXPECT_EQ(motion.demands.size(), 1u);
  const MotionTrack& track = motion.tracks[0];
  EXPECT_EQ(track.feed_mm_s[MomentOfLine(track, 1)], 0.0);
  int moments = 0;
  for (std::size_t m = 0; m < track.size(); ++m) {
    if (track.path_index[m] != 2) continue;
    ++moments;
    EXPECT_LT((track.X_ST[m].translation() - path[2].p_ST).norm(), kTipTolerance_mm);
  }
  EXPECT_GE(moments, 30);  // atan(0.3) = 16.7 deg, at most 0.5 deg a step
  const double turn_s =
      track.time_s[MomentOfLine(track, 2)] - track.time_s[MomentOfLine(track, 1)];
  EXPECT_GT(turn_s, 0.0);
  EXPECT_GE(motion.cut_below_feed_s, turn_s);   // the tip stands still in a cut
}

TEST(MotionPlannerTest, ArmStandsWhereTheToolIsChanged) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = StraightCut(60, 20);
  path.push_back(Line(3, {0, 60, 0}, 20));
  PlanRequest request = Request(arm, path);
  request.X_FT[2].translation().z() += 25.0;   // a longer tool
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  EXPECT_EQ(track.feed_mm_s[MomentOfLine(track, 1)], 0.0);
  const std::size_t last = MomentOfLine(track, 2);
  // The longer tool starts 25 mm below the last line, where the arm stood.
  for (std::size_t m = MomentOfLine(track, 1) + 1; m <= last; ++m) {
    const Eigen::Vector3d p_ST = track.X_ST[m].translation();
    EXPECT_NEAR(p_ST.z(), -25.0 * (60.0 - p_ST.y()) / 30.0, kTipTolerance_mm);
    EXPECT_LE((track.q[m] - track.q[m - 1]).norm(), RadFromDeg(3.0));
  }
  EXPECT_LT((track.X_ST[last].translation() - path[2].p_ST).norm(), kTipTolerance_mm);
  const Pose X_ST = request.X_BS.inverse() * track.X_BF[last] * request.X_FT[2];
  EXPECT_LT((X_ST.matrix() - track.X_ST[last].matrix()).norm(), 1e-9);
}

TEST(MotionPlannerTest, PathOfRapidsOnlyHasNoDemands) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = WavyRows(2, 10);
  for (PathLine& line : path) line.move = MoveKind::kRapid, line.feed_mm_s = 0.0;
  for (const RapidRule rapid : {RapidRule::kStraight, RapidRule::kJoint}) {
    PlanRequest request = Request(arm, path);
    request.controller.rapid = rapid;
    const Motion motion = PlanMotion(request);
    EXPECT_TRUE(motion.complete());
    EXPECT_TRUE(motion.demands.empty());
    EXPECT_EQ(motion.cut_below_feed_s, 0.0);
  }
}

TEST(MotionPlannerTest, ProgressGrowsToOne) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, WavyRows(2, 10));
  std::vector<double> fractions;
  request.progress = [&](const double fraction) { fractions.push_back(fraction); };
  PlanMotion(request);
  ASSERT_FALSE(fractions.empty());
  EXPECT_TRUE(std::is_sorted(fractions.begin(), fractions.end()));
  EXPECT_GE(fractions.front(), 0.0);
  EXPECT_EQ(fractions.back(), 1.0);
}

}  // namespace
}  // namespace aircut::kinematics
