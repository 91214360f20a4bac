#include "kinematics/atan2_lanes.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "tests/support/random_pose.h"

namespace aircut::kinematics {
namespace {

constexpr std::size_t kCount = 8;
constexpr double kError_rad = 1e-15;

double OneAngle(double y, double x) {
  const double ys[kCount] = {y}, xs[kCount] = {x};
  double angle_rad[kCount];
  Atan2Lanes(ys, xs, angle_rad);
  return angle_rad[0];
}

// Oracle: the library's arc tangent in long double.
TEST(Atan2LanesTest, AgreesWithTheLibraryInEveryDirectionAndScale) {
  std::mt19937_64 rng(20260101);
  for (int i = 0; i < 20000; ++i) {
    double y[kCount], x[kCount], angle_rad[kCount];
    for (std::size_t lane = 0; lane < kCount; ++lane) {
      const double direction = support::Draw(rng, -kPi, kPi);
      const double size = std::pow(10.0, support::Draw(rng, -12, 12));
      y[lane] = size * std::sin(direction);
      x[lane] = size * std::cos(direction);
    }
    Atan2Lanes(y, x, angle_rad);
    for (std::size_t lane = 0; lane < kCount; ++lane) {
      const long double exact = std::atan2(static_cast<long double>(y[lane]), x[lane]);
      ASSERT_NEAR(angle_rad[lane], static_cast<double>(exact), kError_rad)
          << "y " << y[lane] << ", x " << x[lane];
    }
  }
}

// Oracle: definition of the arc tangent on and beside the axes and the octants.
TEST(Atan2LanesTest, AxesAndOctantsAreWhereTheyBelong) {
  for (const double y : {0.0, 1e-300, 1e-9, 0.5, 1.0, 2.0, 1e300}) {
    for (const double x : {1e-300, 1e-9, 0.5, 1.0, 2.0, 1e300}) {
      for (const double sy : {1.0, -1.0}) {
        for (const double sx : {1.0, -1.0}) {
          EXPECT_NEAR(OneAngle(sy * y, sx * x), std::atan2(sy * y, sx * x), kError_rad)
              << sy * y << ", " << sx * x;
        }
      }
    }
  }
  EXPECT_EQ(OneAngle(0.0, -1.0), kPi);
  EXPECT_EQ(OneAngle(0.0, 1.0), 0.0);
  EXPECT_EQ(OneAngle(0.0, 0.0), 0.0);
}

// Oracle: near the x axis the angle is the ratio y / x, to relative precision.
TEST(Atan2LanesTest, SmallAnglesKeepTheirDigits) {
  for (const double y : {1e-300, 1e-20, 1e-10, 3e-9}) {
    EXPECT_NEAR(OneAngle(y, 2.0) / (y / 2.0), 1.0, 4e-16) << y;
  }
}

TEST(Atan2LanesTest, NotANumberStaysNotANumber) {
  EXPECT_TRUE(std::isnan(OneAngle(NAN, 1.0)));
  EXPECT_TRUE(std::isnan(OneAngle(1.0, NAN)));
}

}  // namespace
}  // namespace aircut::kinematics
