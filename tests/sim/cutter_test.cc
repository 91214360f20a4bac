#include "sim/cutter.h"

#include <cmath>
#include <limits>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace aircut::sim {
namespace {

using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr double kTol_mm = 1e-12;
constexpr double kPi = 3.14159265358979323846;

// GEO-07 (external-checks.md, clamp to segment): capsule with axis (0,0,0)-(0,0,10),
// radius 2. A ball cutter of radius 2 is that capsule from z = 2 up.
TEST(CutterTest, BallIsTheCapsuleOfGeo07) {
  const Cutter ball = Cutter::Ball(4.0, 14.0);   // ball centres from z = 2 to z = 12
  const Eigen::Vector3d lift(0, 0, 2);
  EXPECT_NEAR(ball.SignedDistance(Eigen::Vector3d(3, 4, 5) + lift), 3.0, kTol_mm);
  // Past the upper end by 4: sqrt(9 + 16) - 2.
  EXPECT_NEAR(ball.SignedDistance(Eigen::Vector3d(3, 0, 14) + lift), 3.0, kTol_mm);
  EXPECT_NEAR(ball.SignedDistance(Eigen::Vector3d(0.5, 0, 5) + lift), -1.5, kTol_mm);
}

// Oracle: brute force over the balls that touch the cone from inside. Flutes as
// short as the cone, so that there is no cylinder above it.
TEST(CutterTest, VIsTheUnionOfTheBallsThatTouchItsCone) {
  const Cutter v = Cutter::V(kPi / 3.0, 0.2, 12.0, 9.0);
  const double z_top = 0.2 + (6.0 - 0.2) / 0.5;
  std::mt19937_64 rng(11);
  std::uniform_real_distribution<double> across(-9.0, 9.0), up(-4.0, 12.0);
  for (int n = 0; n < 300; ++n) {
    const Eigen::Vector3d p(across(rng), across(rng), up(rng));
    double least = 1e9;
    for (int i = 0; i <= 20000; ++i) {
      const double f = i / 20000.0;
      least = std::min(least, (p - Eigen::Vector3d(0, 0, 0.2 + f * (z_top - 0.2))).norm() - 0.2 - f * 5.8);
    }
    EXPECT_NEAR(v.SignedDistance(p), least, 1e-6) << p.transpose();
  }
}

// Oracle: the drawing. The flank of a V of 60 degrees with a rounded tip passes
// the radius (z - apex) tan 30 at height z.
TEST(CutterTest, FlankOfVLiesOnItsCone) {
  const Cutter v = Cutter::V(kPi / 3.0, 0.2, 12.0, 20.0);
  EXPECT_NEAR(v.sharp_apex_mm(), 0.2 - 0.4, kTol_mm);
  for (const double z : {1.0, 3.0, 7.0}) {
    const double r = (z - v.sharp_apex_mm()) * std::tan(kPi / 6.0);
    EXPECT_NEAR(v.SignedDistance({r, 0, z}), 0.0, 1e-9) << z;
  }
  EXPECT_NEAR(v.SignedDistance({0, 0, 0}), 0.0, kTol_mm);   // the tip end
}

// Property: a distance field changes by at most the distance moved.
TEST(CutterTest, DistanceIsOneLipschitz) {
  const Cutter v = Cutter::V(1.0, 0.1, 8.0, 15.0);
  std::mt19937_64 rng(5);
  std::uniform_real_distribution<double> c(-15.0, 25.0);
  for (int n = 0; n < 5000; ++n) {
    const Eigen::Vector3d p(c(rng), c(rng), c(rng)), q(c(rng), c(rng), c(rng));
    EXPECT_LE(std::abs(v.SignedDistance(p) - v.SignedDistance(q)), (p - q).norm() + 1e-9);
  }
}

TEST(CutterTest, BadSizesThrowNamingFieldAndValue) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THAT([] { Cutter::Ball(0.0, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("diameter = 0")));
  EXPECT_THAT([&] { Cutter::Ball(nan, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("diameter")));
  EXPECT_THAT([] { Cutter::Ball(6.0, 2.9); }, ThrowsMessage<std::invalid_argument>(HasSubstr("flute_length = 2.9")));
  EXPECT_THAT([] { Cutter::V(kPi, 0.1, 6.0, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("angle")));
  EXPECT_THAT([] { Cutter::V(1.0, 3.0, 6.0, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("tip_radius = 3")));
}

}  // namespace
}  // namespace aircut::sim
