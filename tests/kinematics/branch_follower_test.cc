#include "kinematics/branch_follower.h"

#include <cmath>
#include <vector>

#include <gtest/gtest.h>

#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

// @returns the posture whose solution is `q` up to whole turns, joint 4 and 6
// left out; -1 for none.
int PostureOf(const PoseSolutions& solutions, const JointVector& q) {
  for (std::size_t id = 0; id < kPostures; ++id) {
    if (!solutions.found[id]) continue;
    double off_rad = 0.0;
    for (const std::size_t j : {0u, 1u, 2u, 4u}) {
      const double step_rad = solutions.q[id][j] - q[static_cast<Eigen::Index>(j)];
      off_rad = std::max(off_rad, std::abs(std::remainder(step_rad, 2.0 * kPi)));
    }
    if (off_rad < 1e-7) return static_cast<int>(id);
  }
  return -1;
}

// Oracle: forward kinematics, and joint 4 stays where it was.
TEST(BranchFollowerTest, StraightWristKeepsJoint4AndReachesThePose) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  const JointVector q = Joints6({10, 20, 40, 35, 0, 15});
  const Pose X_BF = FlangePose(arm, q);
  const PoseSolutions solutions = follower.Solve(X_BF);
  const int posture = PostureOf(solutions, q);
  ASSERT_GE(posture, 0);
  const auto kept = follower.Near(solutions, posture, q);
  ASSERT_TRUE(kept.has_value());
  EXPECT_NEAR((*kept)[3], q[3], 1e-9);
  EXPECT_NEAR((*kept)[5], q[5], 1e-6);
  EXPECT_LT((FlangePose(arm, *kept).matrix() - X_BF.matrix()).norm(), 1e-4);
}

// Oracle: forward kinematics; whole turns are added towards where the arm is.
TEST(BranchFollowerTest, NearestCopyIsWithinHalfATurnAndReachesThePose) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  JointVector q = Joints6({10, 20, 40, 35, 50, 15});
  const Pose X_BF = FlangePose(arm, q);
  const PoseSolutions solutions = follower.Solve(X_BF);
  const int posture = PostureOf(solutions, q);
  ASSERT_GE(posture, 0);
  q[3] += 2.0 * kPi;
  q[5] -= 4.0 * kPi;
  const auto near = follower.Near(solutions, posture, q);
  ASSERT_TRUE(near.has_value());
  EXPECT_LT(LargestStep(q, *near), 1e-8);
  EXPECT_LT((FlangePose(arm, *near).matrix() - X_BF.matrix()).norm(), 1e-8);
}

// A joint that drives another at half its rate does not turn freely: a whole
// turn of it would turn the other by half.
TEST(BranchFollowerTest, DriverOfAPartialFollowerIsNotTurned) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  joints[2].follows = JointFollow{1, -0.5};
  joints[5].follows = JointFollow{4, 1.0};
  const ArmModel arm = InventedArm::Make(joints);
  const BranchFollower follower(arm);
  EXPECT_FALSE(follower.turns_freely(1));
  EXPECT_TRUE(follower.turns_freely(2));
  EXPECT_TRUE(follower.turns_freely(4));
  const JointVector q = Joints6({10, 20, 40, 35, 50, 15});
  const PoseSolutions solutions = follower.Solve(FlangePose(arm, q));
  const int posture = PostureOf(solutions, q);
  ASSERT_GE(posture, 0);
  JointVector q_far = q;
  q_far[1] += 2.0 * kPi;
  const auto near = follower.Near(solutions, posture, q_far);
  ASSERT_TRUE(near.has_value());
  EXPECT_NEAR((*near)[1], q[1], 1e-8);
}

TEST(BranchFollowerTest, PoseOutOfReachHasNoCopy) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  const PoseSolutions solutions =
      follower.Solve(MakePose(Eigen::Matrix3d::Identity(), {9000, 0, 0}));
  for (int posture = 0; posture < kPostures; ++posture) {
    EXPECT_FALSE(follower.Near(solutions, posture, JointVector::Zero(6)).has_value());
  }
}

}  // namespace
}  // namespace aircut::kinematics
