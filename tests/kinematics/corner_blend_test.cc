#include "kinematics/corner_blend.h"

#include <cmath>
#include <optional>

#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

Pose At(const Eigen::Vector3d& p_ST, const double tilt_rad = 0.0) {
  return MakePose(Eigen::AngleAxisd(tilt_rad, Eigen::Vector3d::UnitX()).toRotationMatrix(), p_ST);
}

StraightMove Move(const Pose& X_from, const Pose& X_to) {
  return StraightMove(Pose::Identity(), SpindleInFlange(), X_from, X_to);
}

// A corner that turns by `turn_rad` in the xy plane, the tool tilting on the way.
std::optional<CornerBlend> Corner(const double turn_rad, const double reach_mm,
                                  const double tilt_rad = 0.0) {
  const Eigen::Vector3d onwards(std::cos(turn_rad), std::sin(turn_rad), 0);
  const Pose X_corner = At({10, 0, 0}, tilt_rad);
  return CornerBlend::Between(Move(At({0, 0, 0}), X_corner),
                              Move(X_corner, At(Eigen::Vector3d(10, 0, 0) + 20.0 * onwards, 3.0 * tilt_rad)),
                              reach_mm);
}

// Oracle: the circle that touches both sides at the same distance from the
// corner; 90 degrees and 1 mm give 0.414 mm (common practice, no source).
TEST(CornerBlendTest, ArcTouchesBothSidesAndLeavesTheCornerByTheClosedForm) {
  for (const double turn_deg : {0.5, 5.0, 45.0, 90.0, 135.0, 149.0}) {
    const double turn_rad = RadFromDeg(turn_deg);
    const auto blend = Corner(turn_rad, 1.0);
    ASSERT_TRUE(blend) << turn_deg;
    const Eigen::Vector3d corner(10, 0, 0), onwards(std::cos(turn_rad), std::sin(turn_rad), 0);
    EXPECT_LT((blend->ToolPose(0.0).translation() - Eigen::Vector3d(9, 0, 0)).norm(), 1e-12);
    EXPECT_LT((blend->ToolPose(1.0).translation() - (corner + onwards)).norm(), 1e-9);
    double nearest_mm = 1e9;
    for (int i = 0; i <= 1000; ++i) {
      nearest_mm = std::fmin(nearest_mm, (blend->ToolPose(i / 1000.0).translation() - corner).norm());
    }
    EXPECT_NEAR(nearest_mm, std::tan(turn_rad / 4.0), 1e-9) << turn_deg;
    EXPECT_NEAR(blend->deviation_mm(), nearest_mm, 1e-9) << turn_deg;
  }
  EXPECT_NEAR(Corner(RadFromDeg(90), 1.0)->deviation_mm(), 0.4142, 5e-5);
}

// Oracle: definition of a circle; the middle of it is the same for all places.
TEST(CornerBlendTest, EveryPlaceLiesOnOneCircle) {
  const auto blend = Corner(RadFromDeg(120), 2.0);
  ASSERT_TRUE(blend);
  const double radius_mm = 2.0 / std::tan(RadFromDeg(60));
  EXPECT_NEAR(blend->radius_mm(), radius_mm, 1e-12);
  const Eigen::Vector3d middle(8, radius_mm, 0);
  for (int i = 0; i <= 50; ++i) {
    EXPECT_NEAR((blend->ToolPose(i / 50.0).translation() - middle).norm(), radius_mm, 1e-9);
  }
}

// Oracle: at its ends the blend runs with the twists of the two moves, which are
// known without it; in between, differences of its own poses.
TEST(CornerBlendTest, SpeedAndTurnGoOverIntoBothMoves) {
  const double turn_rad = RadFromDeg(75), tilt_rad = 0.2;
  const Pose X_corner = At({10, 0, 0}, tilt_rad);
  const Eigen::Vector3d onwards(std::cos(turn_rad), std::sin(turn_rad), 0);
  const StraightMove before = Move(At({0, 0, 0}), X_corner);
  const StraightMove after = Move(X_corner, At(Eigen::Vector3d(10, 0, 0) + 20.0 * onwards, 3.0 * tilt_rad));
  const auto blend = CornerBlend::Between(before, after, 1.5);
  ASSERT_TRUE(blend);
  EXPECT_LT((blend->TwistInFoot(0.0) - before.TwistInFoot(0.5)).norm(), 1e-8);
  EXPECT_LT((blend->TwistInFoot(1.0) - after.TwistInFoot(0.5)).norm(), 1e-8);
  for (const double share : {0.1, 0.37, 0.5, 0.8}) {
    const double h = 1e-4;
    const Pose low = blend->ToolPose(share - h), high = blend->ToolPose(share + h);
    const Twist twist = blend->TwistInFoot(share);
    const Eigen::Vector3d v = (high.translation() - low.translation()) / (2 * h * blend->length());
    const Eigen::AngleAxisd turned(high.linear() * low.linear().transpose());
    const Eigen::Vector3d w = turned.axis() * turned.angle() / (2 * h * blend->length());
    EXPECT_LT((twist.head<3>() - v).norm(), 1e-6);
    EXPECT_LT((twist.tail<3>() - w).norm(), 1e-7);
    EXPECT_NEAR(v.norm(), blend->TipSpeed(share), 1e-6);
    EXPECT_LE(blend->TipSpeed(share), 1.0 + 1e-12);
  }
}

// Oracle: the tool's orientation at the ends is that of the moves there; in the
// middle it leaves the corner's by a quarter of each side's turn, here of two
// turns about one axis in a row: (-0.03 + 0.06 / 2) ... by hand.
TEST(CornerBlendTest, OrientationPassesNearTheCornersOwn) {
  const auto blend = Corner(RadFromDeg(60), 1.0, 0.3);
  ASSERT_TRUE(blend);
  // Before: 0.3 rad over 10 mm, so 0.03 over the last one. After: 0.6 over 20.
  const auto tilt = [&](double share) {
    return Eigen::AngleAxisd(blend->ToolPose(share).linear()).angle();
  };
  EXPECT_NEAR(tilt(0.0), 0.27, 1e-12);
  EXPECT_NEAR(tilt(1.0), 0.33, 1e-12);
  EXPECT_NEAR(tilt(0.5), 0.30, 1e-12);
  EXPECT_NEAR(blend->tilt_rad(), 0.0, 1e-9);
}

TEST(CornerBlendTest, CornersThatCannotBeRoundedAreLeft) {
  EXPECT_FALSE(Corner(RadFromDeg(151), 1.0));          // nearly back
  EXPECT_FALSE(Corner(RadFromDeg(180), 1.0));
  EXPECT_FALSE(Corner(RadFromDeg(90), 0.0));           // no reach
  const Pose X_corner = At({10, 0, 0});
  const StraightMove before = Move(At({0, 0, 0}), X_corner);
  EXPECT_FALSE(CornerBlend::Between(before, Move(X_corner, At({10, 0, 0}, 0.5)), 1.0));   // turn on the spot
  EXPECT_FALSE(CornerBlend::Between(Move(At({10, 0, 0}, 0.5), X_corner), before, 1.0));
  const Pose longer = SpindleInFlange() * Eigen::Translation3d(0, 0, -1);
  EXPECT_FALSE(CornerBlend::Between(
      before, StraightMove(Pose::Identity(), longer, X_corner, At({10, 10, 0})), 1.0));
}

// A way that goes straight on stays the straight way, without a NaN.
TEST(CornerBlendTest, StraightOnStaysOnTheLine) {
  const auto blend = Corner(0.0, 1.0);
  ASSERT_TRUE(blend);
  EXPECT_EQ(blend->Curvature(), 0.0);
  for (const double share : {0.0, 0.25, 0.5, 1.0}) {
    EXPECT_LT((blend->ToolPose(share).translation() - Eigen::Vector3d(9 + 2 * share, 0, 0)).norm(), 1e-12);
    EXPECT_NEAR(blend->TwistInFoot(share).head<3>().norm(), 1.0, 1e-9);
  }
}

}  // namespace
}  // namespace aircut::kinematics
