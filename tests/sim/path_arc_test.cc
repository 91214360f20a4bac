#include "sim/path_arc.h"

#include <cmath>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/path_fault.h"
#include "sim/path_source.h"

namespace aircut::sim {
namespace {

using kinematics::kPi;
using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr double kOnCircle_mm = 1e-9;

Eigen::Vector3d Point(const ArcPlane& plane, double first, double second, double third) {
  Eigen::Vector3d p;
  p[plane.first] = first;
  p[plane.second] = second;
  p[plane.third] = third;
  return p;
}

// Oracle: handedness by the cross product: turning from the first axis to the
// second is a right-hand turn about the third, in all three planes.
TEST(PathArcTest, PlanesAreRightHanded) {
  for (const ArcPlane& plane : {kPlaneXy, kPlaneZx, kPlaneYz}) {
    const Eigen::Vector3d a = Eigen::Vector3d::Unit(plane.first), b = Eigen::Vector3d::Unit(plane.second);
    EXPECT_EQ(a.cross(b), Eigen::Vector3d(Eigen::Vector3d::Unit(plane.third)));
  }
}

// Oracle: closed form. A quarter turn about the origin from (10, 0) to (0, 10) is
// counterclockwise and 5 pi mm long; the other way round it is three quarters.
TEST(PathArcTest, QuarterAndThreeQuarterTurnsHaveTheirLengthAndMiddle) {
  for (const ArcPlane& plane : {kPlaneXy, kPlaneZx, kPlaneYz}) {
    ArcEnds ends{Point(plane, 10, 0, 3), Point(plane, 0, 10, 3), plane, ArcTurn::kCounterclockwise};
    const Arc quarter = ArcAboutCentre(ends, {-10, 0});
    EXPECT_NEAR(ArcLength(quarter), 5 * kPi, 1e-12);
    const double d = 10 * std::sqrt(0.5);
    EXPECT_NEAR((ChordEnd(quarter, 1, 2) - Point(plane, d, d, 3)).norm(), 0, kOnCircle_mm);
    ends.turn = ArcTurn::kClockwise;
    const Arc rest = ArcAboutCentre(ends, {-10, 0});
    EXPECT_NEAR(ArcLength(rest), 15 * kPi, 1e-12);
    EXPECT_NEAR((ChordEnd(rest, 1, 2) - Point(plane, -d, -d, 3)).norm(), 0, kOnCircle_mm);
  }
}

// Oracle: definition of circle, helix and sagitta on random arcs: every chord end
// on the circle, the third axis in proportion, the middle of each chord within the
// promised distance of the circle, all turns the same way, the last end exact.
TEST(PathArcTest, ChordsOfRandomArcsKeepCircleSagAndTurn) {
  std::mt19937_64 rng(6983);
  std::uniform_real_distribution<double> coord_mm(-300, 300), angle_rad(-kPi, kPi), radius_mm(0.05, 900);
  for (int n = 0; n < 300; ++n) {
    const ArcPlane plane = n % 3 == 0 ? kPlaneXy : n % 3 == 1 ? kPlaneZx : kPlaneYz;
    const double r = radius_mm(rng), a0 = angle_rad(rng), a1 = angle_rad(rng), cx = coord_mm(rng), cy = coord_mm(rng);
    const double z0 = coord_mm(rng), z1 = coord_mm(rng);
    const ArcEnds ends{Point(plane, cx + r * std::cos(a0), cy + r * std::sin(a0), z0),
                       Point(plane, cx + r * std::cos(a1), cy + r * std::sin(a1), z1), plane,
                       n % 2 == 0 ? ArcTurn::kClockwise : ArcTurn::kCounterclockwise};
    const Arc arc = ArcAboutCentre(ends, {-r * std::cos(a0), -r * std::sin(a0)});
    const int count = ChordCount(arc);
    Eigen::Vector3d before = ends.start;
    double length = 0;
    for (int i = 1; i <= count; ++i) {
      const Eigen::Vector3d now = ChordEnd(arc, i, count);
      const Eigen::Vector2d u(before[plane.first] - cx, before[plane.second] - cy);
      const Eigen::Vector2d v(now[plane.first] - cx, now[plane.second] - cy);
      ASSERT_NEAR(v.norm(), r, kOnCircle_mm) << n;
      ASSERT_LE(r - (0.5 * (u + v)).norm(), kArcSag_mm + kOnCircle_mm) << n;
      const double turn = std::atan2(u.x() * v.y() - u.y() * v.x(), u.dot(v));
      ASSERT_LE(std::abs(turn), kArcStep_rad + 1e-12) << n;
      ASSERT_EQ(turn > 0, ends.turn == ArcTurn::kCounterclockwise) << n;
      ASSERT_NEAR(now[plane.third], z0 + (z1 - z0) * i / count, 1e-9) << n;
      length += std::hypot(r * turn, now[plane.third] - before[plane.third]);
      before = now;
    }
    EXPECT_EQ(before, ends.end);
    EXPECT_NEAR(ArcLength(arc), length, 1e-8);
  }
}

// Oracle: both ways of writing an arc are one arc. R > 0 goes round by at most half
// a turn, R < 0 by the rest.
TEST(PathArcTest, RadiusFindsTheCentreThatCentreWordsGive) {
  std::mt19937_64 rng(41);
  std::uniform_real_distribution<double> angle_rad(-kPi, kPi), radius_mm(0.5, 200);
  for (int n = 0; n < 500; ++n) {
    const double r = radius_mm(rng), a0 = angle_rad(rng), a1 = angle_rad(rng);
    const ArcEnds ends{{r * std::cos(a0), r * std::sin(a0), 0}, {r * std::cos(a1), r * std::sin(a1), 5}, kPlaneXy,
                       n % 2 == 0 ? ArcTurn::kClockwise : ArcTurn::kCounterclockwise};
    if ((ends.start - ends.end).head<2>().norm() < 0.1 * r) continue;
    const Arc centre = ArcAboutCentre(ends, {-ends.start.x(), -ends.start.y()});
    const double gap_to_half = std::abs(std::abs(centre.sweep_rad) - kPi);
    if (gap_to_half < 0.01) continue;   // there R says little about the centre
    const Arc radius = ArcWithRadius(ends, std::abs(centre.sweep_rad) < kPi ? r : -r);
    EXPECT_NEAR((radius.centre - centre.centre).norm(), 0, 1e-9 * r / gap_to_half) << n;
    EXPECT_NEAR(radius.sweep_rad, centre.sweep_rad, 1e-9 / gap_to_half) << n;
  }
}

TEST(PathArcTest, HalfTurnByRadiusIsHalfATurn) {
  const ArcEnds ends{{0, 0, 0}, {20, 0, 0}, kPlaneXy, ArcTurn::kClockwise};
  const Arc arc = ArcWithRadius(ends, 10);
  EXPECT_NEAR(arc.sweep_rad, -kPi, 1e-12);
  EXPECT_NEAR((ChordEnd(arc, 1, 2) - Eigen::Vector3d(10, 10, 0)).norm(), 0, kOnCircle_mm);
  // Rounded ends: 5 um too far for R are bridged, 15 um are not.
  EXPECT_NO_THROW(ArcWithRadius({{0, 0, 0}, {20.01, 0, 0}, kPlaneXy, ArcTurn::kClockwise}, 10));
  EXPECT_THAT([] { ArcWithRadius({{0, 0, 0}, {20.03, 0, 0}, kPlaneXy, ArcTurn::kClockwise}, 10); },
              ThrowsMessage<PathFault>(HasSubstr("ends lie 20.03 mm apart, must be at most two radii R = 10 mm")));
}

TEST(PathArcTest, SameEndsAreAFullCircleBothWays) {
  for (const ArcTurn turn : {ArcTurn::kClockwise, ArcTurn::kCounterclockwise}) {
    const Arc arc = ArcAboutCentre({{1, 2, 0}, {1, 2, 4}, kPlaneXy, turn}, {3, 0});
    EXPECT_DOUBLE_EQ(arc.sweep_rad, turn == ArcTurn::kClockwise ? -2 * kPi : 2 * kPi);
    EXPECT_NEAR(ArcLength(arc), std::hypot(6 * kPi, 4.0), 1e-12);
    EXPECT_NEAR((ChordEnd(arc, 1, 2) - Eigen::Vector3d(7, 2, 2)).norm(), 0, kOnCircle_mm);
  }
  EXPECT_THROW(ArcWithRadius({{1, 2, 0}, {1, 2, 4}, kPlaneXy, ArcTurn::kClockwise}, 3), PathFault);
}

// Either side of the limits: 0.01 mm up to a radius of 10 mm, 0.1 % above.
TEST(PathArcTest, RadiiOfBothEndsMustAgree) {
  const auto arc = [](double start, double end) {
    return ArcAboutCentre({{start, 0, 0}, {0, end, 0}, kPlaneXy, ArcTurn::kCounterclockwise}, {-start, 0});
  };
  EXPECT_NO_THROW(arc(5, 5.0099));
  EXPECT_THAT([&] { arc(5, 5.0101); },
              ThrowsMessage<PathFault>(HasSubstr("radius 5 mm at its start and 5.0101 mm at its end")));
  EXPECT_NO_THROW(arc(100, 100.099));
  EXPECT_THROW(arc(100, 100.101), PathFault);
  EXPECT_EQ(ChordEnd(arc(5, 5.009), 180, 180), Eigen::Vector3d(0, 5.009, 0));
  EXPECT_THROW(arc(0, 0), PathFault);
  EXPECT_THROW(arc(std::nan(""), 1), PathFault);
}

// A rounding error must not decide between nothing and a whole turn.
TEST(PathArcTest, EndsThatNearlyAgreeAreRefused) {
  const auto arc = [](double gap_mm) {
    return ArcAboutCentre({{10, 0, 0}, {10, gap_mm, 0}, kPlaneXy, ArcTurn::kCounterclockwise}, {-10, 0});
  };
  EXPECT_NEAR(arc(1e-7).sweep_rad, 2 * kPi, 1e-12);
  EXPECT_THROW(arc(0.001), PathFault);
  EXPECT_THROW(arc(-0.001), PathFault);
  EXPECT_NEAR(arc(0.0021).sweep_rad, 0.00021, 1e-9);
  EXPECT_NEAR(arc(-0.0021).sweep_rad, 2 * kPi - 0.00021, 1e-9);
}

}  // namespace
}  // namespace aircut::sim
