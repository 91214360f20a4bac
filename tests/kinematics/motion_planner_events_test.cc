// What happens between moves: dwells, changes of the cutter, written times, sums of joints.
#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/jacobian.h"
#include "kinematics/motion_planner.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

using testing::HasSubstr;

// Acceleration in the parameter of a twist (mm or rad) that the weakest joint
// allows, by a solver of its own.
double ParameterAcceleration(const ArmModel& arm, const JointVector& q,
                             const Eigen::Matrix<double, 6, 1>& twist) {
  const Jacobian J = GeometricJacobian(arm, q, SpindleInFlange().translation());
  const Eigen::VectorXd rates = Eigen::MatrixXd(J).fullPivLu().solve(twist);
  double a = std::numeric_limits<double>::infinity();
  for (Eigen::Index j = 0; j < 6; ++j) {
    const double limit = arm.joints()[static_cast<std::size_t>(j)].acceleration_rad_s2;
    if (rates[j] != 0.0) a = std::min(a, limit / std::abs(rates[j]));
  }
  return a;
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

std::vector<std::size_t> MomentsOfLine(const MotionTrack& track, const int path_index) {
  std::vector<std::size_t> moments;
  for (std::size_t m = 0; m < track.size(); ++m) {
    if (track.path_index[m] == path_index) moments.push_back(m);
  }
  return moments;
}

ToolPath ThreeInARow() {
  return {Line(1, {0, -200, 0}, 0, MoveKind::kRapid), Line(2, {0, 0, 0}, 10.0),
          Line(3, {0, 200, 0}, 10.0)};
}

// Oracle: closed form TRJ-04, T = d/v + v/a, for each of the two cuts, which run from rest
// to rest though they are one straight line; and the dwell between them to the last digit.
TEST(MotionPlannerEventsTest, DwellStopsACutAndTakesItsTime) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = ThreeInARow();
  path[1].dwell_s = 2.5;
  const Motion motion = PlanMotion(Request(arm, path));
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  const std::size_t start = MomentOfLine(track, 0), left = MomentOfLine(track, 1);
  const std::size_t end = MomentOfLine(track, 2), arrived = left - 1;
  EXPECT_EQ(track.q[arrived], track.q[left]);
  EXPECT_EQ(track.time_s[left], track.time_s[arrived] + 2.5);
  EXPECT_EQ(track.feed_mm_s[arrived], 0.0);
  EXPECT_EQ(track.feed_mm_s[left], 0.0);
  EXPECT_EQ(track.phase[left], Phase::kCut);
  EXPECT_EQ(track.line[left], 2);
  Eigen::Matrix<double, 6, 1> along_y;
  along_y << 0, 1, 0, 0, 0, 0;
  const auto ramp_s = [&](const std::size_t m) {
    return 0.5 * 10.0 / ParameterAcceleration(arm, track.q[m], along_y);
  };
  const double first_s = track.time_s[arrived] - track.time_s[start];
  const double second_s = track.time_s[end] - track.time_s[left];
  EXPECT_NEAR(first_s, 200.0 / 10.0 + ramp_s(start) + ramp_s(arrived), 1e-4);
  EXPECT_NEAR(second_s, 200.0 / 10.0 + ramp_s(left) + ramp_s(end), 1e-4);
  // A written dwell is no slow cutting: 0.9 of each of the four ramps is.
  EXPECT_NEAR(motion.cut_below_feed_s,
              1.8 * (ramp_s(start) + ramp_s(arrived) + ramp_s(left) + ramp_s(end)), 1e-4);
}

// Oracle: changed input. Under exact stop a dwell moves what comes after it in time and
// adds a moment, and changes nothing else, to the bit in joints.
TEST(MotionPlannerEventsTest, DwellsShiftTheRestOfAMotionInTime) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, WavyRows(2, 12));
  request.controller.corner = CornerRule::kExactStop;
  const Motion plain = PlanMotion(request);
  const std::vector<std::size_t> where = {0, 5, 6, 13, request.path.size() - 1};
  for (const std::size_t i : where) request.path[i].dwell_s = 0.25 + static_cast<double>(i);
  const Motion waiting = PlanMotion(request);
  ASSERT_TRUE(plain.complete());
  ASSERT_TRUE(waiting.complete());
  const MotionTrack &a = plain.tracks[0], &b = waiting.tracks[0];
  ASSERT_EQ(b.size(), a.size() + where.size());
  double waited_s = 0.0;
  std::size_t n = 0, dwells = 0;
  for (std::size_t m = 0; m < b.size(); ++m) {
    const bool last_of_line = m > 0 && (m + 1 == b.size() || b.path_index[m + 1] != b.path_index[m]);
    const bool at_dwell =
        last_of_line && b.path_index[m] >= 0 &&
        request.path[static_cast<std::size_t>(b.path_index[m])].dwell_s > 0.0;
    if (at_dwell) {
      ++dwells;
      waited_s += request.path[static_cast<std::size_t>(b.path_index[m])].dwell_s;
      EXPECT_EQ(b.q[m], b.q[m - 1]);
      EXPECT_EQ(b.X_ST[m].matrix(), b.X_ST[m - 1].matrix());
      EXPECT_EQ(b.feed_mm_s[m], 0.0);
    } else {
      ASSERT_LT(n, a.size());
      EXPECT_EQ(b.q[m], a.q[n]) << "moment " << m;
      EXPECT_EQ(b.line[m], a.line[n]);
      EXPECT_NEAR(b.feed_mm_s[m], a.feed_mm_s[n], 1e-12);
      ++n;
    }
    EXPECT_NEAR(b.time_s[m], a.time_s[n - 1] + waited_s, 1e-9) << "moment " << m;
  }
  EXPECT_EQ(dwells, where.size());
  EXPECT_EQ(n, a.size());
  EXPECT_NEAR(plain.cut_below_feed_s, waiting.cut_below_feed_s, 1e-9);
}

// The spindle may run up there: the arm has arrived and waits as at any line.
TEST(MotionPlannerEventsTest, DwellAtTheFirstLineFollowsTheApproach) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = ThreeInARow();
  path[0].dwell_s = 3.0;
  PlanRequest request = Request(arm, path);
  for (const bool at_home : {false, true}) {
    if (at_home) {
      const Motion motion = PlanMotion(request);
      request.home = motion.tracks[0].q[MomentOfLine(motion.tracks[0], 0)];
    }
    const Motion motion = PlanMotion(request);
    ASSERT_TRUE(motion.complete());
    const MotionTrack& track = motion.tracks[0];
    const std::vector<std::size_t> at = MomentsOfLine(track, 0);
    ASSERT_EQ(at.size(), 2u);
    EXPECT_EQ(track.phase[at[0]], Phase::kApproach);
    EXPECT_EQ(track.phase[at[1]], Phase::kRapid);
    EXPECT_EQ(track.line[at[1]], 1);
    EXPECT_EQ(track.time_s[at[1]], track.time_s[at[0]] + 3.0);
    EXPECT_EQ(track.time_s[at[0]] == 0.0, at_home);
    EXPECT_GT(track.time_s[at[1] + 1], track.time_s[at[1]]);
  }
}

TEST(MotionPlannerEventsTest, DwellsAtRepeatedLinesAddUp) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = ThreeInARow();
  path.insert(path.begin() + 2, 2, path[1]);
  path[1].dwell_s = 1.0;    // then one without, then one with a dwell
  path[3].dwell_s = 0.5;
  for (std::size_t i = 0; i < path.size(); ++i) path[i].line = static_cast<int>(i) + 1;
  const Motion motion = PlanMotion(Request(arm, path));
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  const std::size_t arrived = MomentsOfLine(track, 1)[MomentsOfLine(track, 1).size() - 2];
  EXPECT_DOUBLE_EQ(track.time_s[MomentOfLine(track, 1)], track.time_s[arrived] + 1.0);
  EXPECT_DOUBLE_EQ(track.time_s[MomentOfLine(track, 2)], track.time_s[arrived] + 1.0);
  EXPECT_DOUBLE_EQ(track.time_s[MomentOfLine(track, 3)], track.time_s[arrived] + 1.5);
  EXPECT_TRUE(std::is_sorted(track.time_s.begin(), track.time_s.end()));
}

PlanRequest ChangeRequest(const ArmModel& arm) {
  ToolPath path = {Line(11, {0, -30, 40}, 0, MoveKind::kRapid), Line(12, {0, 0, 40}, 20.0),
                   Line(13, {0, 30, 40}, 20.0), Line(14, {0, 60, 40}, 20.0)};
  path[2].tool = path[3].tool = 2;
  PlanRequest request = Request(arm, path);
  request.X_FT[2].translation().z() += 12.0;
  request.X_FT[3].translation().z() += 12.0;
  request.tool_change = {Joints6({20, -30, 40, 10, 70, 20}), Joints6({60, -40, 50, 0, 80, 0})};
  return request;
}

// Oracle: definition, and the closed form of moves of all joints in step (TRJ-04).
TEST(MotionPlannerEventsTest, ChangeOfCutterGoesToItsPlaceAndBackTheSameWay) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = ChangeRequest(arm);
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  // The moment of the swap: no time passes, the line changes, the joints do not.
  std::size_t swap = 1;
  while (swap < track.size() && track.path_index[swap] != 2) ++swap;
  ASSERT_LT(swap, track.size());
  EXPECT_EQ(track.q[swap], request.tool_change[1]);
  EXPECT_EQ(track.q[swap - 1], request.tool_change[1]);
  EXPECT_EQ(track.time_s[swap], track.time_s[swap - 1]);
  EXPECT_EQ(track.path_index[swap - 1], 1);
  const Pose X_SF = request.X_BS.inverse() * track.X_BF[swap];
  EXPECT_LT((track.X_ST[swap - 1].matrix() - (X_SF * request.X_FT[1]).matrix()).norm(), 1e-9);
  EXPECT_LT((track.X_ST[swap].matrix() - (X_SF * request.X_FT[2]).matrix()).norm(), 1e-9);
  // Out and back are the same joints in the other order, as fast as the joints go.
  std::size_t out = swap - 1, back = swap;
  while (track.phase[out] == Phase::kRapid) --out;
  while (track.phase[back] == Phase::kRapid) ++back;
  const JointVector q_line = track.q[out];
  EXPECT_EQ(track.phase[out], Phase::kCut);
  EXPECT_EQ(track.line[out], 12);
  EXPECT_EQ(track.q[back - 1], q_line);
  const double way_s = JointMoveTime(arm, q_line, request.tool_change[0]) +
                       JointMoveTime(arm, request.tool_change[0], request.tool_change[1]);
  EXPECT_NEAR(track.time_s[swap] - track.time_s[out], way_s, 1e-9);
  EXPECT_NEAR(track.time_s[back - 1] - track.time_s[swap], way_s, 1e-9);
  for (const std::size_t from : {out + 1, swap}) {
    const std::size_t to = from == swap ? back : swap;
    EXPECT_EQ(std::count(track.q.begin() + static_cast<long>(from),
                         track.q.begin() + static_cast<long>(to), request.tool_change[0]),
              1);
    for (std::size_t m = from; m < to; ++m) {
      EXPECT_EQ(track.line[m], from == swap ? 13 : 12);
      EXPECT_EQ(track.phase[m], Phase::kRapid);
    }
  }
  // Then on to the next line with the new tool.
  EXPECT_EQ(track.phase[back], Phase::kCut);
  const std::size_t last = MomentOfLine(track, 2);
  EXPECT_LT((track.X_ST[last].translation() - request.path[2].p_ST).norm(), 1e-6);
  EXPECT_EQ(motion.demands.size(), 3u);
}

// Two cutters of one length: only their numbers tell them apart.
TEST(MotionPlannerEventsTest, CuttersOfOneLengthAreStillChanged) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = ChangeRequest(arm);
  request.X_FT.assign(4, SpindleInFlange());
  const Motion there = PlanMotion(request);
  ASSERT_TRUE(there.complete());
  EXPECT_EQ(std::count(there.tracks[0].q.begin(), there.tracks[0].q.end(), request.tool_change[1]),
            2);
  request.tool_change.clear();
  const Motion in_place = PlanMotion(request);
  ASSERT_TRUE(in_place.complete());
  const MotionTrack& track = in_place.tracks[0];
  const std::size_t swap = MomentsOfLine(track, 2).front();
  EXPECT_EQ(track.q[swap], track.q[swap - 1]);
  EXPECT_EQ(track.time_s[swap], track.time_s[swap - 1]);
  EXPECT_EQ(track.feed_mm_s[swap], 0.0);
}

// Oracle: as in the test of moves alone: mean rates and their changes stay within the limits.
TEST(MotionPlannerEventsTest, JointLimitsHoldAroundDwellsAndChanges) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = ChangeRequest(arm);
  for (PathLine& line : request.path) line.feed_mm_s = 600.0;
  request.path[1].dwell_s = 0.05;
  request.path[2].dwell_s = 0.3;
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  JointVector rate_before = JointVector::Zero(6);
  double dt_before_s = 0.0, used = 0.0;
  for (std::size_t m = 1; m < track.size(); ++m) {
    const double dt_s = track.time_s[m] - track.time_s[m - 1];
    ASSERT_GE(dt_s, 0.0);
    if (dt_s == 0.0) continue;
    const JointVector rate = (track.q[m] - track.q[m - 1]) / dt_s;
    for (Eigen::Index j = 0; j < 6; ++j) {
      const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
      EXPECT_LE(std::abs(rate[j]) / joint.speed_rad_s, 1.001) << "moment " << m;
      const double acceleration =
          std::abs(rate[j] - rate_before[j]) / (0.5 * (dt_s + dt_before_s));
      EXPECT_LE(acceleration / joint.acceleration_rad_s2, 1.001) << "moment " << m;
      used = std::max(used, acceleration / joint.acceleration_rad_s2);
    }
    rate_before = rate;
    dt_before_s = dt_s;
  }
  EXPECT_GT(used, 0.9);
}

ToolPath TurnOnThePlace(const double turn_rad) {
  ToolPath path = {Line(1, {0, -30, 0}, 0, MoveKind::kRapid), Line(2, {0, 0, 0}, 20.0),
                   Line(3, {0, 0, 0}, 20.0, MoveKind::kCut,
                        {std::sin(turn_rad), 0, std::cos(turn_rad)})};
  return path;
}

// Oracle: closed form, T = turn / rate + ramps, with the accelerations at both ends from a
// solver of its own; in between the tool turns at the written rate.
TEST(MotionPlannerEventsTest, PureTurnTakesItsWrittenTimeAndItsRamps) {
  const ArmModel arm = InventedArm::Make();
  const double turn_rad = 0.3, written_s = 4.0;
  ToolPath path = TurnOnThePlace(turn_rad);
  path[2].duration_s = written_s;
  const Motion motion = PlanMotion(Request(arm, path));
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  const std::size_t from = MomentOfLine(track, 1), to = MomentOfLine(track, 2);
  Eigen::Matrix<double, 6, 1> about_y;
  about_y << 0, 0, 0, 0, 1, 0;
  const double rate_rad_s = turn_rad / written_s;
  const double ramps_s =
      0.5 * rate_rad_s / ParameterAcceleration(arm, track.q[from], about_y) +
      0.5 * rate_rad_s / ParameterAcceleration(arm, track.q[to], about_y);
  EXPECT_GT(ramps_s, 1e-3);
  EXPECT_GE(track.time_s[to] - track.time_s[from], written_s);
  EXPECT_NEAR(track.time_s[to] - track.time_s[from], written_s + ramps_s, 0.05 * ramps_s);
  for (std::size_t m = from + 2; m < to; ++m) {
    const double step_rad = Eigen::Quaterniond(track.X_ST[m].linear())
                                .angularDistance(Eigen::Quaterniond(track.X_ST[m - 1].linear()));
    EXPECT_NEAR(step_rad / (track.time_s[m] - track.time_s[m - 1]), rate_rad_s, 1e-6);
  }
  ASSERT_EQ(motion.demands.size(), 2u);   // the cut and the turn
  EXPECT_EQ(motion.demands[1].line, 3);
  EXPECT_LT(motion.demands[1].ratio, 1.0);
}

// Oracle: changed input. A time that no joint can hold changes nothing but the demand,
// which grows as the time shrinks.
TEST(MotionPlannerEventsTest, TooShortAWrittenTimeRunsAsFastAsTheJointsAllow) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = TurnOnThePlace(0.3);
  const Motion free = PlanMotion(Request(arm, path));
  path[2].duration_s = 1e-3;
  const Motion fast = PlanMotion(Request(arm, path));
  path[2].duration_s = 2e-3;
  const Motion half = PlanMotion(Request(arm, path));
  ASSERT_TRUE(fast.complete());
  EXPECT_EQ(fast.tracks[0].time_s, free.tracks[0].time_s);
  ASSERT_EQ(fast.demands.size(), 2u);
  EXPECT_GT(fast.demands[1].ratio, 10.0);
  EXPECT_NEAR(fast.demands[1].ratio, 2.0 * half.demands[1].ratio, 1e-9 * fast.demands[1].ratio);
}

// A rapid runs as fast as the joints allow, whatever its line carries.
TEST(MotionPlannerEventsTest, WrittenTimeOfARapidDoesNotCount) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = TurnOnThePlace(0.3);
  path[2].move = MoveKind::kRapid;
  const Motion free = PlanMotion(Request(arm, path));
  path[2].duration_s = 60.0;
  EXPECT_EQ(PlanMotion(Request(arm, path)).tracks[0].time_s, free.tracks[0].time_s);
}

TEST(MotionPlannerEventsTest, EventsThatMakeNoSenseThrowNamingTheField) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest good = ChangeRequest(arm);
  const auto expect_throw = [&](const std::string& text, auto&& spoil) {
    PlanRequest bad = good;
    spoil(bad);
    EXPECT_THAT([&] { PlanMotion(bad); },
                testing::ThrowsMessage<std::invalid_argument>(HasSubstr(text)));
  };
  const double nan = std::nan(""), infinity = std::numeric_limits<double>::infinity();
  for (const double value : {-1e-9, nan, infinity}) {
    expect_throw("line 12: dwell_s", [&](PlanRequest& r) { r.path[1].dwell_s = value; });
  }
  for (const double value : {0.0, -2.0, nan, infinity}) {
    expect_throw("line 12: duration_s", [&](PlanRequest& r) { r.path[1].duration_s = value; });
  }
  expect_throw("tool_change.size", [](PlanRequest& r) { r.tool_change[1] = JointVector::Zero(5); });
  expect_throw("tool_change[2]", [&](PlanRequest& r) { r.tool_change[0][2] = nan; });
}

TEST(MotionPlannerEventsTest, PlaceOfChangeOutsideARangeIsAFaultOfNoLine) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = ChangeRequest(arm);
  request.tool_change[1][4] = RadFromDeg(127.0);
  const Motion motion = PlanMotion(request);
  EXPECT_FALSE(motion.complete());
  ASSERT_EQ(motion.faults.size(), 1u);
  EXPECT_EQ(motion.faults[0].path_index, -1);
  EXPECT_NEAR(motion.faults[0].value, RadFromDeg(2.0), 1e-12);
  EXPECT_THAT(motion.faults[0].text, HasSubstr("Tool change 2: joint 5"));
}

// The same row once inside a sum limit that just holds it and once just outside.
TEST(MotionPlannerEventsTest, SumJustOutsideItsRangeIsAFaultThatNamesTheSum) {
  const ArmModel wide = InventedArm::Make();
  const PlanRequest open = Request(wide, WavyRows(1, 40));
  const Motion motion = PlanMotion(open);
  ASSERT_TRUE(motion.complete());
  double highest_rad = -10.0;
  std::vector<JointSpec> joints = InventedArm::Joints();
  for (std::size_t j = 0; j < 6; ++j) {    // no other posture fits
    const auto index = static_cast<Eigen::Index>(j);
    double low_rad = 10.0, high_rad = -10.0;
    for (const JointVector& q : motion.tracks[0].q) {
      low_rad = std::min(low_rad, q[index]);
      high_rad = std::max(high_rad, q[index]);
    }
    joints[j].lower_rad = low_rad - 0.1;
    joints[j].upper_rad = high_rad + 0.1;
  }
  for (const JointVector& q : motion.tracks[0].q) highest_rad = std::max(highest_rad, q[2] + q[1]);
  for (const double off_rad : {1e-6, -1e-6}) {
    joints[2].sum_limit = SumLimit{1, 1.0, -10.0, highest_rad + off_rad};
    const ArmModel narrow = InventedArm::Make(joints);
    PlanRequest request = open;
    request.arm = &narrow;
    const Motion planned = PlanMotion(request);
    EXPECT_EQ(planned.complete(), off_rad > 0.0);
    EXPECT_NEAR(planned.joint_margins[2].margin_rad, off_rad, 1e-9);
    EXPECT_TRUE(planned.joint_margins[2].of_sum);
    EXPECT_FALSE(planned.joint_margins[1].of_sum);
    if (off_rad > 0.0) continue;
    ASSERT_FALSE(planned.faults.empty());
    const PlanFault& fault = planned.faults[0];
    EXPECT_EQ(fault.kind, PlanFaultKind::kOutOfRange);
    EXPECT_EQ(fault.joint, 2);
    EXPECT_NEAR(fault.value, -off_rad, 1e-9);
    EXPECT_EQ(fault.limit, highest_rad + off_rad);
    EXPECT_THAT(fault.text, HasSubstr("the sum joint 3 + joint 2"));
  }
}

// Oracle: the limit itself. Each joint alone would stand near 0; only a whole turn of one
// of them brings their sum or difference into its range.
TEST(MotionPlannerEventsTest, WholeTurnsAreChosenSoThatSumsFit) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  for (const double ratio : {1.0, -1.0}) {
    for (const double middle_deg : {-360.0, 360.0}) {
      joints[5].sum_limit = SumLimit{3, ratio, RadFromDeg(middle_deg - 250.0),
                                     RadFromDeg(middle_deg + 250.0)};
      const ArmModel arm = InventedArm::Make(joints);
      PlanRequest request = Request(arm, WavyRows(2, 10));
      request.home[5] = RadFromDeg(middle_deg > 0 ? 150.0 : -150.0);
      const Motion motion = PlanMotion(request);
      ASSERT_TRUE(motion.complete()) << motion.faults.at(0).text;
      for (const JointVector& q : motion.tracks[0].q) {
        EXPECT_NEAR(DegFromRad(q[5] + ratio * q[3]), middle_deg, 250.0);
        EXPECT_TRUE(arm.InRange(q));
      }
    }
  }
}

}  // namespace
}  // namespace aircut::kinematics
