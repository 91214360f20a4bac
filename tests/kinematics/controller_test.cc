// What the controller makes of corners, dense points and its look-ahead.
#include <algorithm>
#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "kinematics/jacobian.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

ToolPath SquareCorner(const double side_mm, const double feed_mm_s) {
  return {Line(1, {0, 0, 0}, 0, MoveKind::kRapid), Line(2, {side_mm, 0, 0}, feed_mm_s),
          Line(3, {side_mm, side_mm, 0}, feed_mm_s)};
}

PlanRequest Rounded(const ArmModel& arm, const ToolPath& path, const double distance_mm) {
  PlanRequest request = Request(arm, path);
  request.controller.corner_distance_mm = distance_mm;
  return request;
}

// A wavy run of short lines with corners, tilts and a standstill, all at random.
ToolPath RandomPath(const unsigned seed, const int lines) {
  std::mt19937 rng(seed);
  std::uniform_real_distribution<double> part(-1.0, 1.0);
  ToolPath path{Line(1, {0, 0, 20}, 0, MoveKind::kRapid)};
  Eigen::Vector3d p_ST(0, 0, 0);
  for (int i = 0; i < lines; ++i) {
    p_ST += Eigen::Vector3d(1.5 + part(rng), 2.0 * part(rng), 0.5 * part(rng));
    const Eigen::Vector3d axis_S(0.2 * part(rng), 0.2 * part(rng), 1);
    path.push_back(Line(i + 2, p_ST, 20.0 + 15.0 * part(rng), MoveKind::kCut, axis_S));
    if (i == lines / 2) path.back().dwell_s = 0.4;
  }
  path.push_back(Line(lines + 2, p_ST + Eigen::Vector3d(0, 0, 30), 0, MoveKind::kRapid));
  return path;
}

double Duration(const Motion& motion) { return motion.tracks.at(0).time_s.back(); }

// Oracle: arc that touches both sides 1 mm from the corner (common practice, no
// source): 0.414 mm.
TEST(ControllerTest, SquareCornerIsRoundedByTheArc) {
  const ArmModel arm = InventedArm::Make();
  const Motion motion = PlanMotion(Rounded(arm, SquareCorner(10, 20), 1.0));
  ASSERT_TRUE(motion.complete());
  ASSERT_EQ(motion.corners.size(), 1u);
  const CornerCut& corner = motion.corners[0];
  EXPECT_EQ(corner.line, 2);
  EXPECT_NEAR(corner.turn_rad, kPi / 2, 1e-12);
  EXPECT_EQ(corner.start_mm, 1.0);
  EXPECT_NEAR(corner.deviation_mm, 0.41421, 5e-6);
  double nearest_mm = 1e9;
  for (const Pose& X_ST : motion.tracks[0].X_ST) {
    nearest_mm = std::fmin(nearest_mm, (X_ST.translation() - Eigen::Vector3d(10, 0, 0)).norm());
  }
  EXPECT_NEAR(nearest_mm, 0.41421, 5e-6);
}

// The rounding takes at most half of either line; under exact stop there is none.
TEST(ControllerTest, ShortLinesAreRoundedByHalfTheirLengthAndExactStopNotAtAll) {
  const ArmModel arm = InventedArm::Make();
  const Motion shorter = PlanMotion(Rounded(arm, SquareCorner(1.2, 20), 1.0));
  ASSERT_EQ(shorter.corners.size(), 1u);
  EXPECT_NEAR(shorter.corners[0].start_mm, 0.6, 1e-12);
  PlanRequest stop = Rounded(arm, SquareCorner(10, 20), 1.0);
  stop.controller.corner = CornerRule::kExactStop;
  const Motion stopped = PlanMotion(stop);
  EXPECT_TRUE(stopped.corners.empty());
  const MotionTrack& track = stopped.tracks[0];
  const std::size_t corner = MomentOfLine(track, 1);
  EXPECT_EQ(track.feed_mm_s[corner], 0.0);
  EXPECT_LT((track.X_ST[corner].translation() - Eigen::Vector3d(10, 0, 0)).norm(), 1e-8);
}

// Oracle: chords between moments stay within 0.001 mm of the arc about a known middle.
TEST(ControllerTest, ChordsOfARoundedCornerStayNearTheArc) {
  const ArmModel arm = InventedArm::Make();
  const Motion motion = PlanMotion(Rounded(arm, SquareCorner(40, 20), 15.0));
  const Eigen::Vector3d middle(25, 15, 0);
  int on_arc = 0;
  const MotionTrack& track = motion.tracks.at(0);
  for (std::size_t i = 1; i < track.size(); ++i) {
    const Eigen::Vector3d a = track.X_ST[i - 1].translation(), b = track.X_ST[i].translation();
    if (track.phase[i] != Phase::kCut || a.x() < 25.0 - 1e-9 || b.y() > 15.0 + 1e-9) continue;
    EXPECT_NEAR((a - middle).norm(), 15.0, 1e-6);
    EXPECT_GE((0.5 * (a + b) - middle).norm(), 15.0 - 0.001);
    ++on_arc;
  }
  EXPECT_GT(on_arc, 10);
}

// Every line keeps a moment of its own, in order, whatever is left out.
TEST(ControllerTest, EveryLineOwnsAMoment) {
  const ArmModel arm = InventedArm::Make();
  const ToolPath path = RandomPath(3, 60);
  for (const double distance_mm : {0.0, 0.001, 0.05, 0.4}) {
    const Motion motion = PlanMotion(Rounded(arm, path, distance_mm));
    ASSERT_TRUE(motion.complete());
    const MotionTrack& track = motion.tracks[0];
    for (std::size_t i = 0; i < path.size(); ++i) EXPECT_NO_THROW(MomentOfLine(track, static_cast<int>(i)));
    EXPECT_EQ(track.held_by.size(), track.size());
    EXPECT_TRUE(std::is_sorted(track.time_s.begin(), track.time_s.end()));
  }
}

// Oracle: differences of the joints over the moments (definition of speed); mean
// acceleration between the middles of two intervals, no longer than two cycles.
TEST(ControllerTest, JointLimitsHoldOnRoundedPaths) {
  const ArmModel arm = InventedArm::Make();
  for (unsigned seed = 1; seed <= 6; ++seed) {
    const Motion motion = PlanMotion(Rounded(arm, RandomPath(seed, 80), 0.3));
    ASSERT_TRUE(motion.complete());
    const MotionTrack& track = motion.tracks[0];
    for (std::size_t i = 1; i < track.size(); ++i) {
      const double dt = track.time_s[i] - track.time_s[i - 1];
      if (!(dt > 0.0)) continue;
      for (Eigen::Index j = 0; j < 6; ++j) {
        const double speed = std::abs(track.q[i][j] - track.q[i - 1][j]) / dt;
        EXPECT_LE(speed, 1.005 * arm.joints()[static_cast<std::size_t>(j)].speed_rad_s) << seed << ' ' << i;
      }
    }
  }
}

TEST(ControllerTest, ThreeTimesAreInOrderAndTheModelledIsTheTrack) {
  const ArmModel arm = InventedArm::Make();
  for (unsigned seed = 1; seed <= 5; ++seed) {
    PlanRequest request = Rounded(arm, RandomPath(seed, 60), 0.2);
    request.controller.look_ahead_moves = 3;
    const Motion motion = PlanMotion(request);
    EXPECT_LE(motion.times.ideal_s, motion.times.modelled_s + 1e-9);
    EXPECT_LE(motion.times.modelled_s, motion.times.stop_each_s);
    EXPECT_EQ(motion.times.modelled_s, Duration(motion));
  }
}

// Oracle: row TRJ-25: standing still at every point; the tip goes along axis 1's
// circle, so that joint 1 alone gives the limit: 2 sqrt(d / a) a segment.
TEST(ControllerTest, LookAheadOfOneMoveStandsAtEveryLine) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path{Line(1, {0, 0, 0}, 0, MoveKind::kRapid)};
  for (int i = 1; i <= 40; ++i) path.push_back(Line(i + 1, {0, 1.0 * i, 0}, 200.0));
  PlanRequest request = Request(arm, path);
  request.controller.cycle_s = 1e-4;
  request.controller.look_ahead_moves = 1;
  const Motion one = PlanMotion(request);
  const MotionTrack& track = one.tracks.at(0);
  for (int line = 1; line <= 40; ++line) EXPECT_EQ(track.feed_mm_s[MomentOfLine(track, line)], 0.0);
  double last_s = Duration(one);
  for (const int moves : {2, 3}) {
    request.controller.look_ahead_moves = moves;
    const double duration_s = Duration(PlanMotion(request));
    EXPECT_LT(duration_s, last_s) << moves;
    last_s = duration_s;
  }
  request.controller.look_ahead_moves = 60;   // more than there are
  const double far_s = Duration(PlanMotion(request));
  EXPECT_LT(far_s, last_s);
  request.controller.look_ahead_moves.reset();
  EXPECT_NEAR(Duration(PlanMotion(request)), far_s, 1e-9);
}

// A control that learns of a line at the end of the one before cannot round it.
TEST(ControllerTest, LookAheadOfOneMoveRoundsNoCorner) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Rounded(arm, SquareCorner(10, 20), 1.0);
  request.controller.look_ahead_moves = 1;
  const Motion motion = PlanMotion(request);
  EXPECT_TRUE(motion.corners.empty());
  const std::size_t corner = MomentOfLine(motion.tracks.at(0), 1);
  EXPECT_LT((motion.tracks[0].X_ST[corner].translation() - Eigen::Vector3d(10, 0, 0)).norm(), 1e-8);
  EXPECT_NEAR(motion.times.modelled_s, motion.times.stop_each_s, 1e-9);
}

// Oracle: the same path without the repeated lines: same corners, same time.
TEST(ControllerTest, RepeatedPosesArePassedOver) {
  const ArmModel arm = InventedArm::Make();
  const ToolPath path = SquareCorner(10, 20);
  ToolPath repeated = path;
  repeated.insert(repeated.begin() + 2, path[1]);
  repeated.insert(repeated.begin() + 2, path[1]);
  for (const double distance_mm : {1.0, 1e-3}) {
    const Motion once = PlanMotion(Rounded(arm, path, distance_mm));
    const Motion again = PlanMotion(Rounded(arm, repeated, distance_mm));
    ASSERT_EQ(once.corners.size(), again.corners.size());
    EXPECT_NEAR(Duration(once), Duration(again), 1e-9);
    const MotionTrack& track = again.tracks.at(0);
    const std::size_t first = MomentOfLine(track, 1), last = MomentOfLine(track, 3);
    EXPECT_EQ(last, first + 2);
    EXPECT_EQ(track.time_s[first], track.time_s[last]);
    EXPECT_GT(track.feed_mm_s[last], 0.0);
  }
}

// Corners across the end of reach: a way that is laid up is laid up whole, one that
// cannot be followed is a fault.
TEST(ControllerTest, RoundedWayIsWholeOrAFault) {
  const ArmModel arm = InventedArm::Make();
  int unfollowed = 0;
  for (int step = 0; step <= 60; ++step) {
    const double x_mm = 1055.0 + 0.4 * step;
    const ToolPath path{Line(1, {x_mm - 2, -2, 0}, 0, MoveKind::kRapid),
                        Line(2, {x_mm, 0, 0}, 20.0), Line(3, {x_mm - 2, 2, 0}, 20.0)};
    const Motion sharp = PlanMotion(Request(arm, path));
    const Motion rounded = PlanMotion(Rounded(arm, path, 1.0));
    if (!rounded.complete()) {
      EXPECT_FALSE(rounded.faults.empty());
      ++unfollowed;
      continue;
    }
    ASSERT_TRUE(sharp.complete());
    const MotionTrack& track = rounded.tracks[0];
    const auto& p_end = track.X_ST[MomentOfLine(track, 2)].translation();
    EXPECT_LT((p_end - path[2].p_ST).norm(), 1e-6) << x_mm;
    for (std::size_t i = 1; i < track.size(); ++i) {
      if (track.phase[i] != Phase::kCut) continue;
      EXPECT_LT((track.X_ST[i].translation() - track.X_ST[i - 1].translation()).norm(), 2.9) << x_mm;
    }
  }
  EXPECT_GT(unfollowed, 0);
  EXPECT_LT(unfollowed, 61);
}

// Oracle: one line per cycle at most: 0.2 mm in 12 ms are 16.7 mm/s (domain
// knowledge, common practice, no source).
TEST(ControllerTest, DensePointsAreHeldByTheCycle) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path{Line(1, {0, 0, 0}, 0, MoveKind::kRapid)};
  for (int i = 1; i <= 300; ++i) path.push_back(Line(i + 1, {0, 0.2 * i, 0}, 100.0));
  const Motion motion = PlanMotion(Request(arm, path));
  const MotionTrack& track = motion.tracks.at(0);
  const std::size_t middle = MomentOfLine(track, 150);
  EXPECT_NEAR(track.feed_mm_s[middle], 0.2 / 0.012, 1e-6);
  EXPECT_EQ(track.held_by[middle].by, HeldBy::kCycle);
  const LineFeed& feed = motion.line_feeds.at(149);
  EXPECT_NEAR(feed.length_mm, 0.2, 1e-9);
  EXPECT_NEAR(feed.slow_mm, 0.2, 1e-9);
  EXPECT_NEAR(feed.lowest_mm_s, 0.2 / 0.012, 1e-6);
  EXPECT_EQ(feed.hold.by, HeldBy::kCycle);
}

// Oracle: the speeds of the tip and of every link origin, by differences.
TEST(ControllerTest, SlowPassHoldsTipAndLinks) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Rounded(arm, RandomPath(4, 30), 0.2);
  request.slow_mm_s = 15.0;
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  double fastest = 0.0;
  for (std::size_t i = 1; i < track.size(); ++i) {
    const double dt = track.time_s[i] - track.time_s[i - 1];
    if (!(dt > 0.0)) continue;
    const std::vector<Pose> from = LinkPoses(arm, track.q[i - 1]), to = LinkPoses(arm, track.q[i]);
    for (std::size_t link = 0; link < from.size(); ++link) {
      fastest = std::fmax(fastest, (to[link].translation() - from[link].translation()).norm() / dt);
    }
    fastest = std::fmax(fastest, (track.X_ST[i].translation() - track.X_ST[i - 1].translation()).norm() / dt);
  }
  EXPECT_LE(fastest, 15.0 * 1.005);
  EXPECT_GT(fastest, 14.0);
}

// Changed input: less of any limit never makes the same way shorter in time.
TEST(ControllerTest, HalvingALimitNeverShortensTheTime) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = Rounded(arm, RandomPath(7, 50), 0.25);
  const double whole_s = Duration(PlanMotion(request));
  for (std::size_t j = 0; j < 6; ++j) {
    for (const bool of_speed : {true, false}) {
      std::vector<JointSpec> joints = InventedArm::Joints();
      (of_speed ? joints[j].speed_rad_s : joints[j].acceleration_rad_s2) *= 0.5;
      const ArmModel weaker = InventedArm::Make(joints);
      PlanRequest half = request;
      half.arm = &weaker;
      EXPECT_GE(Duration(PlanMotion(half)), whole_s * (1.0 - 1e-6)) << j << of_speed;
    }
  }
}

// A limit on the tip's acceleration holds on the straight and in the round:
// v^2 / r with what the law leaves for it.
TEST(ControllerTest, ToolAccelerationSlowsTheArc) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Rounded(arm, SquareCorner(40, 200), 5.0);
  request.controller.tool_acceleration_mm_s2 = 500.0;
  const Motion motion = PlanMotion(request);
  const MotionTrack& track = motion.tracks.at(0);
  const double v = track.feed_mm_s[MomentOfLine(track, 1)];
  EXPECT_LE(v * v / 5.0, 500.0 / std::sqrt(2.0) * (1.0 + 1e-9));
  EXPECT_GT(Duration(motion), Duration(PlanMotion(Rounded(arm, SquareCorner(40, 200), 5.0))));
}

TEST(ControllerTest, BadRulesThrowNamingTheField) {
  const ArmModel arm = InventedArm::Make();
  const auto refused = [&](const ControllerRules& rules, const std::string& name) {
    PlanRequest request = Request(arm, SquareCorner(10, 20));
    request.controller = rules;
    try {
      PlanMotion(request);
      ADD_FAILURE() << name;
    } catch (const std::invalid_argument& error) {
      EXPECT_NE(std::string(error.what()).find(name), std::string::npos) << error.what();
    }
  };
  ControllerRules rules;
  rules.corner_distance_mm = -1.0;
  refused(rules, "corner_distance_mm");
  rules = {};
  rules.look_ahead_moves = 0;
  refused(rules, "look_ahead_moves");
  rules = {};
  rules.tool_acceleration_mm_s2 = 0.0;
  refused(rules, "tool_acceleration_mm_s2");
}

}  // namespace
}  // namespace aircut::kinematics
