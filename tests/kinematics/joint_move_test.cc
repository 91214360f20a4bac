#include "kinematics/joint_move.h"

#include <cmath>
#include <vector>

#include <gtest/gtest.h>

namespace aircut::kinematics {
namespace {

// Three parallel joints of 100 mm links with the limits of row TRJ-22.
ArmModel ThreeJoints() {
  std::vector<JointSpec> joints(3);
  const double speed_rad_s[] = {0.1, 0.2, 0.3}, acceleration_rad_s2[] = {1, 2, 3};
  for (std::size_t j = 0; j < 3; ++j) {
    joints[j].lower_rad = -3.0;
    joints[j].upper_rad = 3.0;
    joints[j].speed_rad_s = speed_rad_s[j];
    joints[j].acceleration_rad_s2 = acceleration_rad_s2[j];
  }
  return ArmModel::FromDhStandard({{100, 0, 0, 0}, {100, 0, 0, 0}, {100, 0, 0, 0}}, joints);
}

JointVector Vector3(const double a, const double b, const double c) {
  JointVector q(3);
  q << a, b, c;
  return q;
}

// Source: external-checks TRJ-22, example of an open time-scaling library: speed of
// the share at most 0.3, its acceleration at most 3.
TEST(JointMoveTest, LimitsOfAStraightJointPathMatchPublishedOnes) {
  const JointMove move{Vector3(0.1, -0.2, 0.5), Vector3(0.3, 0.1, -0.5)};
  const PieceLimits limits = LimitsOf(ThreeJoints(), move);
  EXPECT_EQ(limits.length, 1.0);
  EXPECT_NEAR(limits.v_max, 0.3, 1e-12);
  EXPECT_NEAR(limits.a_max, 3.0, 1e-12);
}

TEST(JointMoveTest, NoStepHasNoLength) {
  const JointMove rest{Vector3(0.1, 0.2, 0.3), Vector3(0.1, 0.2, 0.3)};
  EXPECT_EQ(LimitsOf(ThreeJoints(), rest).length, 0.0);
}

// Oracle: a circle of radius r turned by t leaves its chord by r (1 - cos(t/2)).
TEST(JointMoveTest, SamplesOfACircleKeepTheSagAndAreNotWasteful) {
  const JointMove move{Vector3(0, 0, 0), Vector3(1.0, 0, 0)};
  const double radius_mm = 300.0, sag_mm = 0.01;
  const std::vector<double> shares =
      SampleJointMove(ThreeJoints(), move, Eigen::Vector3d::Zero(), sag_mm);
  ASSERT_FALSE(shares.empty());
  EXPECT_EQ(shares.back(), 1.0);
  double before = 0.0;
  for (const double share : shares) {
    ASSERT_GT(share, before);
    EXPECT_LE(radius_mm * (1.0 - std::cos(0.5 * (share - before))), sag_mm);
    before = share;
  }
  const double widest_rad = 2.0 * std::acos(1.0 - sag_mm / radius_mm);
  EXPECT_LE(shares.size(), 2.2 / widest_rad + 1.0);  // halving costs at most a factor 2
}

}  // namespace
}  // namespace aircut::kinematics
