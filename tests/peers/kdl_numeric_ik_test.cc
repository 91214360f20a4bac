// Second opinion: inverse kinematics by search of an arm with an offset wrist
// against the Levenberg-Marquardt solver of Orocos KDL, from one random seed each
// as its users would.
#include <algorithm>
#include <cmath>
#include <random>

#include <gtest/gtest.h>
#include <kdl/chain.hpp>
#include <kdl/chainfksolverpos_recursive.hpp>
#include <kdl/chainiksolverpos_lma.hpp>

#include "kinematics/forward_kinematics.h"
#include "kinematics/numeric_ik.h"
#include "tests/support/kdl_arm.h"
#include "tests/support/random_pose.h"
#include "tests/support/searched_arms.h"

namespace aircut::kinematics {
namespace {

constexpr int kPoses = 300;
// Their miss to stop at [m, rad]; at a double root the joints miss by
// the root of it, 1e-5, times what the lengths make of it.
constexpr double kTheirMiss = 1e-10;
constexpr double kSame_rad = 1e-3;

bool IsSame(const JointVector& theta, const Eigen::VectorXd& theirs) {
  for (Eigen::Index j = 0; j < 6; ++j) {
    if (std::abs(std::remainder(theta[j] - theirs[j], 2.0 * kPi)) > kSame_rad) return false;
  }
  return true;
}

// Ours must not find less, every posture of theirs must be one of ours, and their
// forward kinematics must put every posture of ours on the pose.
TEST(KdlNumericIkTest, OffsetWristIsSolvedAtLeastAsOftenAndInTheSamePostures) {
  const ArmModel arm = support::OffsetWristArm();
  SearchRules thorough;
  thorough.most_starts = thorough.quiet_starts = 200;
  const NumericIk usual(arm), search(arm, thorough);
  const KDL::Chain chain = support::KdlChainOf(support::OffsetWristRows());
  KDL::ChainIkSolverPos_LMA solver(chain, kTheirMiss);
  KDL::ChainFkSolverPos_recursive forward(chain);
  std::mt19937_64 rng(20260820);
  int ours = 0, theirs = 0, shared = 0;
  for (int i = 0; i < kPoses; ++i) {
    const Pose X_BF = FlangePose(arm, support::RandomPanelValues(rng, arm));
    KDL::JntArray seed(6), found(6);
    seed.data = arm.ModelAngles(support::RandomPanelValues(rng, arm));
    if (usual.Solve(X_BF).count > 0) ++ours;
    if (solver.CartToJnt(seed, support::KdlFrameOf(X_BF), found) != 0) continue;
    ++theirs;
    const SearchedSolutions all = search.Solve(X_BF);
    if (std::any_of(all.begin(), all.end(), [&](const SearchedSolution& one) {
          return IsSame(arm.ModelAngles(one.q), found.data);
        })) {
      ++shared;
    }
    for (const SearchedSolution& one : all) {
      KDL::JntArray joints(6);
      joints.data = arm.ModelAngles(one.q);
      KDL::Frame frame;
      ASSERT_EQ(forward.JntToCart(joints, frame), 0);
      EXPECT_TRUE(KDL::Equal(frame, support::KdlFrameOf(X_BF), 2e-12));
    }
  }
  EXPECT_EQ(ours, kPoses);
  EXPECT_LE(theirs, ours);
  EXPECT_GE(theirs, kPoses / 2);   // or the chains are not the same arm
  EXPECT_EQ(shared, theirs);
}

}  // namespace
}  // namespace aircut::kinematics
