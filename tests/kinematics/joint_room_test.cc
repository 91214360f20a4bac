#include "kinematics/joint_room.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "tests/support/random_pose.h"
#include "tests/support/sample_arm.h"

namespace aircut::kinematics {
namespace {

ArmModel ArmWithSum(const SumLimit& limit) {
  std::vector<JointSpec> joints = support::PlainJoints(3);
  joints[2].lower_rad = -1.0, joints[2].upper_rad = 1.0;
  joints[2].sum_limit = limit;
  return ArmModel::FromDhStandard(std::vector<DhRow>(3), joints);
}

JointVector Panel3(double q1, double q2, double q3) {
  JointVector q(3);
  q << q1, q2, q3;
  return q;
}

// Oracle: the definition, by hand.
TEST(JointRoomTest, NearerOfOwnRangeAndSumCounts) {
  const ArmModel arm = ArmWithSum({1, -2.0, -3.0, 0.5});
  const JointRoom own = RoomOf(arm, Panel3(0, 0.5, 0.75), 2);   // sum -0.25, 0.75 below its end
  EXPECT_FALSE(own.of_sum);
  EXPECT_DOUBLE_EQ(own.room_rad, 0.25);
  EXPECT_DOUBLE_EQ(own.value_rad, 0.75);
  EXPECT_DOUBLE_EQ(own.upper_rad, 1.0);
  const JointRoom sum = RoomOf(arm, Panel3(0, 0.0, 0.25), 2);
  EXPECT_TRUE(sum.of_sum);
  EXPECT_DOUBLE_EQ(sum.room_rad, 0.25);
  EXPECT_DOUBLE_EQ(sum.value_rad, 0.25);
  EXPECT_DOUBLE_EQ(sum.lower_rad, -3.0);
  const JointRoom outside = RoomOf(arm, Panel3(0, 1.5, -0.5), 2);   // sum -3.5
  EXPECT_TRUE(outside.of_sum);
  EXPECT_DOUBLE_EQ(outside.room_rad, -0.5);
  EXPECT_FALSE(RoomOf(arm, Panel3(0, 1.5, -0.5), 1).of_sum);
}

TEST(JointRoomTest, NotANumberHasNoRoom) {
  const ArmModel arm = ArmWithSum({1, 1.0, -3.0, 3.0});
  EXPECT_TRUE(std::isnan(RoomOf(arm, Panel3(0, std::nan(""), 0), 2).room_rad));
  EXPECT_TRUE(std::isnan(RoomOf(arm, Panel3(0, 0, std::nan("")), 2).room_rad));
}

// Oracle: a second formulation of the same ranges, InRange.
TEST(JointRoomTest, RoomAgreesWithInRange) {
  std::mt19937_64 rng(5);
  int inside = 0;
  for (int trial = 0; trial < 2000; ++trial) {
    const double lower = support::Draw(rng, -3, 0), upper = support::Draw(rng, 0, 3);
    const ArmModel arm = ArmWithSum({trial % 2, support::Draw(rng, -2, 2), lower, upper});
    const JointVector q = Panel3(support::Draw(rng, -3, 3), support::Draw(rng, -3, 3),
                                 support::Draw(rng, -1.2, 1.2));
    const double margin_rad = support::Draw(rng, 0, 0.3);
    bool fits = true;
    for (int j = 0; j < 3; ++j) fits = fits && RoomOf(arm, q, j).room_rad >= margin_rad;
    EXPECT_EQ(fits, arm.InRange(q, margin_rad)) << "trial " << trial;
    inside += fits ? 1 : 0;
  }
  EXPECT_GT(inside, 200);
  EXPECT_LT(inside, 1800);
}

TEST(JointRoomTest, SumsAreNamedInWords) {
  EXPECT_EQ(NameOfJoint(2), "joint 3");
  EXPECT_EQ(NameOfSum(2, {1, 1.0, 0, 1}), "joint 3 + joint 2");
  EXPECT_EQ(NameOfSum(2, {1, -1.0, 0, 1}), "joint 3 - joint 2");
  EXPECT_EQ(NameOfSum(5, {3, -0.5, 0, 1}), "joint 6 - 0.5 * joint 4");
}

}  // namespace
}  // namespace aircut::kinematics
