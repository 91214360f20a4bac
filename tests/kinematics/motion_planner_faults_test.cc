#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/motion_planner.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

// Ranges that hold the moments of a track and hardly more, so that no other
// posture fits; joint 2 is left as it is.
std::vector<JointSpec> RangesAround(const MotionTrack& track) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  for (const std::size_t j : {0u, 2u, 3u, 4u}) {
    const auto index = static_cast<Eigen::Index>(j);
    joints[j].lower_rad = joints[j].upper_rad = track.q[0][index];
    for (const JointVector& q : track.q) {
      joints[j].lower_rad = std::min(joints[j].lower_rad, q[index] - 0.1);
      joints[j].upper_rad = std::max(joints[j].upper_rad, q[index] + 0.1);
    }
  }
  return joints;
}

// Oracle: geometry. In the arm's plane, tool down, the wrist centre is 620 mm
// over the tip and the tip 4 m in front of joint 1.
TEST(MotionPlannerFaultsTest, LineOutOfReachIsAFaultWithTheMissingMillimetres) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path = StraightCut(20, 20);
  path.push_back(Line(3, {2400, 0, 0}, 20));
  path.push_back(Line(4, {2400, 1, 0}, 20));
  const Motion motion = PlanMotion(Request(arm, path));
  EXPECT_FALSE(motion.complete());
  ASSERT_EQ(motion.faults.size(), 1u);
  const PlanFault& fault = motion.faults[0];
  EXPECT_EQ(fault.kind, PlanFaultKind::kOutOfReach);
  const SphericalWristParameters p = InventedArm::Parameters();
  const double height_mm = 600 + 400 + p.c4_mm - p.c1_mm;
  const double reach_mm = p.c2_mm + std::hypot(p.a2_mm, p.c3_mm);
  const double beyond_mm = std::hypot(std::hypot(4000.0, 1.0) - p.a1_mm, height_mm) - reach_mm;
  EXPECT_NEAR(fault.value, beyond_mm, 1e-6);
  EXPECT_NEAR(fault.limit, reach_mm, 1e-9);
  EXPECT_EQ(fault.line, 4);
  EXPECT_THAT(fault.text, testing::HasSubstr("2 lines"));
  EXPECT_EQ(motion.demands.size(), 1u);        // the line that could be followed
  EXPECT_EQ(motion.joint_margins.size(), 6u);
  EXPECT_EQ(motion.posture_per_line.size(), path.size());
}

// The same row once inside a narrowed range and once just outside it.
TEST(MotionPlannerFaultsTest, JointJustOutsideItsRangeIsAFaultAndJustInsideIsNot) {
  const ArmModel wide = InventedArm::Make();
  const PlanRequest open = Request(wide, WavyRows(1, 40));
  const Motion motion = PlanMotion(open);
  ASSERT_TRUE(motion.complete());
  double highest_rad = open.home[1];
  for (const JointVector& q : motion.tracks[0].q) highest_rad = std::max(highest_rad, q[1]);
  for (const double off_rad : {1e-6, -1e-6}) {
    std::vector<JointSpec> joints = RangesAround(motion.tracks[0]);
    joints[1].upper_rad = highest_rad + off_rad;
    const ArmModel narrow = InventedArm::Make(joints);
    PlanRequest request = open;
    request.arm = &narrow;
    const Motion planned = PlanMotion(request);
    EXPECT_EQ(planned.complete(), off_rad > 0.0);
    if (off_rad > 0.0) {
      EXPECT_NEAR(planned.joint_margins[1].margin_rad, off_rad, 1e-9);
      continue;
    }
    ASSERT_FALSE(planned.faults.empty());
    EXPECT_EQ(planned.faults[0].kind, PlanFaultKind::kOutOfRange);
    EXPECT_EQ(planned.faults[0].joint, 1);
    EXPECT_NEAR(planned.faults[0].value, -off_rad, 1e-9);
    EXPECT_EQ(planned.faults[0].limit, joints[1].upper_rad);
  }
}

// Oracle: symmetry. Across the front of the arm the elbow is bent most in the
// middle of the line, where no path line lies.
TEST(MotionPlannerFaultsTest, RangeLeftBetweenTwoLinesIsAFault) {
  const ArmModel wide = InventedArm::Make();
  const PlanRequest open = Request(wide, StraightCut(1200, 200));
  const Motion motion = PlanMotion(open);
  ASSERT_TRUE(motion.complete());
  const MotionTrack& track = motion.tracks[0];
  const double end_rad = track.q[MomentOfLine(track, 1)][1];
  double lowest_rad = end_rad;
  for (std::size_t m = 0; m < track.size(); ++m) {
    if (track.phase[m] == Phase::kCut) lowest_rad = std::min(lowest_rad, track.q[m][1]);
  }
  ASSERT_LT(lowest_rad, end_rad - 0.01);
  std::vector<JointSpec> joints = RangesAround(track);
  joints[1].lower_rad = 0.5 * (lowest_rad + end_rad);
  const ArmModel narrow = InventedArm::Make(joints);
  PlanRequest request = open;
  request.arm = &narrow;
  request.home = track.q[MomentOfLine(track, 0)];
  const Motion planned = PlanMotion(request);
  EXPECT_FALSE(planned.complete());
  ASSERT_EQ(planned.faults.size(), 1u);
  EXPECT_EQ(planned.faults[0].kind, PlanFaultKind::kOutOfRange);
  EXPECT_EQ(planned.faults[0].joint, 1);
  EXPECT_EQ(planned.faults[0].line, 2);
  EXPECT_NEAR(planned.faults[0].value, 0.5 * (end_rad - lowest_rad), 1e-3);
}

TEST(MotionPlannerFaultsTest, HomeOutsideItsRangeIsAFaultOfNoLine) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, StraightCut(20, 20));
  request.home[4] = RadFromDeg(126.0);
  const Motion motion = PlanMotion(request);
  EXPECT_FALSE(motion.complete());
  ASSERT_EQ(motion.faults.size(), 1u);
  EXPECT_EQ(motion.faults[0].kind, PlanFaultKind::kOutOfRange);
  EXPECT_EQ(motion.faults[0].line, 0);
  EXPECT_EQ(motion.faults[0].path_index, -1);
  EXPECT_NEAR(motion.faults[0].value, RadFromDeg(1.0), 1e-12);
  EXPECT_THAT(motion.faults[0].text, testing::HasSubstr("Home"));
}

TEST(MotionPlannerFaultsTest, RequestsThatContradictThemselvesThrowNamingTheField) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest good = Request(arm, StraightCut(20, 20));
  const auto expect_throw = [&](const std::string& field, auto&& spoil) {
    PlanRequest bad = good;
    spoil(bad);
    EXPECT_THAT([&] { PlanMotion(bad); },
                testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr(field)));
  };
  const double nan = std::nan("");
  expect_throw("arm", [](PlanRequest& r) { r.arm = nullptr; });
  expect_throw("path", [](PlanRequest& r) { r.path.clear(), r.X_FT.clear(); });
  expect_throw("X_FT", [](PlanRequest& r) { r.X_FT.pop_back(); });
  expect_throw("home", [](PlanRequest& r) { r.home = JointVector::Zero(5); });
  expect_throw("home", [&](PlanRequest& r) { r.home[2] = nan; });
  expect_throw("approach", [](PlanRequest& r) { r.approach = {JointVector::Zero(7)}; });
  expect_throw("cycle_s", [](PlanRequest& r) { r.controller.cycle_s = 0; });
  expect_throw("sag_mm", [&](PlanRequest& r) { r.sag_mm = nan; });
  expect_throw("feed_mm_s", [](PlanRequest& r) { r.path[1].feed_mm_s = 0; });
  expect_throw("feed_mm_s", [&](PlanRequest& r) { r.path[1].feed_mm_s = nan; });
  expect_throw("p_ST", [&](PlanRequest& r) { r.path[1].p_ST.y() = nan; });
  expect_throw("axis_S", [&](PlanRequest& r) { r.path[1].axis_S.z() = nan; });
  expect_throw("axis_S", [](PlanRequest& r) { r.path[1].axis_S *= 2; });
  expect_throw("R_ST", [](PlanRequest& r) { r.spin = SpinRule::kAsWritten; });
  expect_throw("X_BS", [&](PlanRequest& r) { r.X_BS.translation().x() = nan; });
  expect_throw("line 1", [](PlanRequest& r) { r.toward_S = Eigen::Vector3d::UnitZ(); });
}

}  // namespace
}  // namespace aircut::kinematics
