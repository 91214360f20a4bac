// Arms without closed form through the follower and the planner.
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/branch_follower.h"
#include "kinematics/jacobian.h"
#include "kinematics/reach_shell.h"
#include "tests/kinematics/planner_scene.h"
#include "tests/support/pose_near.h"
#include "tests/support/random_pose.h"
#include "tests/support/searched_arms.h"

namespace aircut::kinematics {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

double Determinant(const ArmModel& arm, const JointVector& q) {
  return Eigen::Matrix<double, 6, 6>(JacobianFromFoot(arm, q)).determinant();
}

JointVector SolutionAt(const PoseSolutions& solutions, const std::size_t id) {
  return Eigen::Map<const Eigen::Matrix<double, 6, 1>>(solutions.q[id].data());
}

// Oracle: the search itself and forward kinematics; no solution is lost or doubled
// by the table of eight.
TEST(SearchedArmPlanningTest, TableHoldsTheSolutionsUnderEightIds) {
  const ArmModel arm = support::OffsetWristArm();
  const BranchFollower follower(arm);
  const NumericIk search(arm);
  EXPECT_TRUE(follower.searches());
  std::mt19937_64 rng(20260810);
  for (int i = 0; i < 50; ++i) {
    const Pose X_BF = FlangePose(arm, support::RandomPanelValues(rng, arm));
    const PoseSolutions table = follower.Solve(X_BF);
    int held = 0;
    for (std::size_t id = 0; id < kPostures; ++id) {
      if (!table.found[id]) continue;
      ++held;
      EXPECT_THAT(FlangePose(arm, SolutionAt(table, id)), support::PoseNear(X_BF, 1e-9, 1e-12));
      for (std::size_t other = 0; other < id; ++other) {
        if (table.found[other]) {
          EXPECT_FALSE(SolutionAt(table, id).isApprox(SolutionAt(table, other), 1e-9));
        }
      }
    }
    EXPECT_EQ(held, std::min(search.Solve(X_BF).count, kPostures));
  }
}

// Oracle: the branch is where the arm stands, whichever id is asked for, turns
// counted from there.
TEST(SearchedArmPlanningTest, BranchIsHeldWhateverTheId) {
  const ArmModel arm = support::OffsetWristArm();
  const BranchFollower follower(arm);
  JointVector q = support::PanelFromDeg({10, 20, 30, 40, 50, 60});
  const PoseSolutions solutions = follower.Solve(FlangePose(arm, q));
  q[3] += 2.0 * kPi;
  q[5] -= 4.0 * kPi;
  JointVector q_beside = q;
  q_beside[1] += 0.02;
  q_beside[4] -= 0.03;
  for (int posture = 0; posture < kPostures; ++posture) {
    const auto near = follower.Near(solutions, posture, q_beside);
    ASSERT_TRUE(near.has_value());
    EXPECT_LT(LargestStep(q, *near), 1e-8);
  }
}

// Oracle: the straight move of known ends; step by step the flange is on it and
// the joints are even, and the last stands on the pose asked for.
TEST(SearchedArmPlanningTest, FollowsALongStraightMoveOnOneBranch) {
  const ArmModel arm = support::OffsetWristArm();
  const BranchFollower follower(arm);
  const JointVector q = support::PanelFromDeg({5, 20, 30, 20, 50, 10});
  const Pose X_FT = SpindleInFlange(), X_ST = FlangePose(arm, q) * X_FT;
  const Eigen::AngleAxisd lean(0.3, Eigen::Vector3d::UnitX());
  const Pose X_ST_end = Eigen::Translation3d(50, 300, -80) * X_ST * lean;
  const JointVector none(0);
  const StraightMove move(Pose::Identity(), X_FT, X_ST, X_ST_end, {&arm, none, none});
  const PoseSolutions end = follower.Solve(move.FlangePose(1.0));
  const auto q_end = follower.Follow(move, 0, q, end);
  ASSERT_TRUE(q_end.has_value());
  EXPECT_THAT(FlangePose(arm, *q_end), support::PoseNear(move.FlangePose(1.0), 1e-9, 1e-12));
  JointVector q_small = q;
  for (int k = 1; k <= 1000; ++k) {
    const auto next = follower.Near(follower.Solve(move.FlangePose(0.001 * k)), 0, q_small);
    ASSERT_TRUE(next.has_value());
    EXPECT_LT(LargestStep(q_small, *next), 0.005);
    q_small = *next;
  }
  EXPECT_LT(LargestStep(q_small, *q_end), 1e-8);
  EXPECT_GT(Determinant(arm, q) * Determinant(arm, *q_end), 0.0);
}

// Oracle: the written path. Moments put the tool on it, joints never jump.
TEST(SearchedArmPlanningTest, PathOverAReliefIsPlannedOnOneBranch) {
  const ArmModel arm = support::OffsetWristArm();
  const ToolPath path = WavyRows(2, 60);
  const Motion motion = PlanMotion(Request(arm, path));
  ASSERT_TRUE(motion.complete()) << motion.faults.front().text;
  const MotionTrack& track = motion.tracks[0];
  for (std::size_t i = 0; i < path.size(); ++i) {
    const std::size_t m = MomentOfLine(track, static_cast<int>(i));
    if (motion.corners.empty()) {
      EXPECT_LT((track.X_ST[m].translation() - path[i].p_ST).norm(), 1e-8);
    }
    EXPECT_TRUE(arm.InRange(track.q[m]));
  }
  const double start = Determinant(arm, track.q[MomentOfLine(track, 0)]);
  for (std::size_t m = 1; m < track.size(); ++m) {
    if (track.phase[m] == Phase::kApproach || track.phase[m] == Phase::kReturn) continue;
    EXPECT_LT(LargestStep(track.q[m - 1], track.q[m]), RadFromDeg(1.001));
    EXPECT_GT(Determinant(arm, track.q[m]) * start, 0.0);
  }
}

// The free spin goes through the same search.
TEST(SearchedArmPlanningTest, FreeSpinIsChosenForASearchedArm) {
  const ArmModel arm = support::OffsetWristArm();
  PlanRequest request = Request(arm, WavyRows(1, 12));
  request.spin = SpinRule::kFree;
  request.freedom.spins = 12;
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete()) << motion.faults.front().text;
  EXPECT_EQ(motion.spin_per_line.size(), request.path.size());
}

// What is surely beyond all links is said with its millimetres; a pose inside that
// ball without a solution is not said to be out of reach.
TEST(SearchedArmPlanningTest, OnlySureFaultsAreCalledOutOfReach) {
  const ArmModel arm = support::OffsetWristArm();
  ToolPath far_path = StraightCut(20, 20);
  for (PathLine& line : far_path) line.p_ST.x() = 2400;
  const Motion far = PlanMotion(Request(arm, far_path));
  ASSERT_EQ(far.faults.size(), 1u);
  EXPECT_EQ(far.faults[0].kind, PlanFaultKind::kOutOfReach);
  EXPECT_GT(far.faults[0].value, 0.0);
  EXPECT_THAT(far.faults[0].text, HasSubstr("outside what the arm can reach"));
  // At the rim of the ball with the flange looking back at the foot: axis 6 passes
  // axis 5 at 80 mm, across the way out.
  const Eigen::Vector3d out_S = Eigen::Vector3d::UnitX();
  ToolPath path;
  for (int i = 0; i < 2; ++i) path.push_back(Line(i + 1, {495, 1.0 * i, 180}, 20, MoveKind::kCut, out_S));
  PlanRequest rim = Request(arm, path);
  rim.toward_S = Eigen::Vector3d::UnitZ();
  const Pose X_BT = rim.X_BS * MakePose(RotationFromAxis(out_S, rim.toward_S), rim.path[0].p_ST);
  EXPECT_LT(ChainReach(arm).Beyond_mm(X_BT * SpindleInFlange().inverse()), 0.0);
  const Motion near = PlanMotion(rim);
  ASSERT_FALSE(near.faults.empty());
  EXPECT_EQ(near.faults[0].kind, PlanFaultKind::kOutOfReach);
  EXPECT_EQ(near.faults[0].value, 0.0);
  EXPECT_THAT(near.faults[0].text, HasSubstr("no solution was found"));
  EXPECT_THAT(near.faults[0].text, Not(HasSubstr("outside")));
}

}  // namespace
}  // namespace aircut::kinematics
