#include "verify/cell_words.h"

#include <limits>

#include <gtest/gtest.h>

#include "kinematics/units.h"

namespace aircut::verify {
namespace {

using kinematics::kPi;
using kinematics::MakePose;

// Oracle: definition.
TEST(CellWordsTest, NumbersKeepThreeDecimalsAndNoTail) {
  EXPECT_EQ(Given(40.01), "40.01");
  EXPECT_EQ(Given(-0.0625), "-0.062");   // halves go to the even digit, as printed by the standard library
  EXPECT_EQ(Given(1234567.5), "1,234,567.5");
  EXPECT_EQ(Given(999.9996), "1,000");
  EXPECT_EQ(Given(100), "100");
  EXPECT_EQ(Given(-0.0004), "0");
  EXPECT_EQ(Given(std::numeric_limits<double>::quiet_NaN()), "unknown");
  EXPECT_EQ(Given(std::numeric_limits<double>::infinity()), "unknown");
  EXPECT_EQ(GivenMm(-1200), "-1,200 mm");
  EXPECT_EQ(GivenDegrees(kPi / 8), "22.5°");
}

// Oracle: the rotation is made from the axis and angle that must be read back.
TEST(CellWordsTest, PosesAreAxisAndAngle) {
  const auto turned = [](double angle_rad, const Eigen::Vector3d& axis) {
    return GivenPose(MakePose(Eigen::AngleAxisd(angle_rad, axis).toRotationMatrix(), {1, -2, 0.5}));
  };
  EXPECT_EQ(turned(0, Eigen::Vector3d::UnitX()), "(1, -2, 0.5) mm, not turned");
  EXPECT_EQ(turned(kPi / 2, Eigen::Vector3d::UnitZ()), "(1, -2, 0.5) mm, turned 90° about (0, 0, 1)");
  EXPECT_EQ(turned(-kPi / 2, Eigen::Vector3d::UnitZ()), "(1, -2, 0.5) mm, turned 90° about (0, 0, -1)");
  EXPECT_EQ(turned(0.5 * kPi / 180, Eigen::Vector3d(0.6, 0, 0.8)), "(1, -2, 0.5) mm, turned 0.5° about (0.6, 0, 0.8)");
}

// Half a turn either way about an axis or its opposite is one and the same.
TEST(CellWordsTest, HalfTurnHasOneName) {
  for (const double angle_rad : {kPi, -kPi}) {
    for (const double side : {1.0, -1.0}) {
      const Eigen::AngleAxisd turn(angle_rad, side * Eigen::Vector3d::UnitX());
      EXPECT_EQ(GivenPose(MakePose(turn.toRotationMatrix(), Eigen::Vector3d::Zero())),
                "(0, 0, 0) mm, turned 180° about (1, 0, 0)");
    }
  }
}

}  // namespace
}  // namespace aircut::verify
