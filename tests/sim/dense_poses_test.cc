#include "sim/dense_poses.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "sim/revolved_solid.h"
#include "tests/sim/sample_meshes.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

const double kPi = std::acos(-1.0);

// A ray straight down at (x, y) in a block with its top at z = 0.
DepthRay Down(double x, double y) { return {{x, y, 0.0}, Vector3d::UnitZ()}; }

RayDepth Start(double bottom_mm = -20.0) {
  RayDepth start;
  start.has_material = true;
  start.bottom_mm = bottom_mm;
  return start;
}

DenseDepth Depth(const ToolTrack& track, const CutterOutline& outline, const DepthRay& ray, double bottom_mm = -20.0) {
  return DepthByDensePoses(track, {outline}, {ray}, {Start(bottom_mm)}, 1).front();
}

// The tool's balls and cones do not matter here, only its poses.
ToolTrack Track(const std::vector<Vector3d>& tips) { return UprightTrack(Cutter::Ball(6.0, 20.0), tips); }

void ExpectTop(const DenseDepth& depth, double exact_mm) {
  EXPECT_TRUE(depth.touched);
  EXPECT_GE(depth.top_mm, exact_mm - 1e-9);
  EXPECT_LE(depth.top_mm - depth.bound_mm, exact_mm + 1e-9);
  EXPECT_LE(depth.bound_mm, 1e-3);
}

// Oracle: closed forms of a groove along x, its bottom at -2, `off` beside its middle.
TEST(DensePosesTest, GroovesOfEveryShapeHaveTheirClosedForm) {
  const ToolTrack track = Track({{-10, 0, -2}, {10, 0, -2}});
  const double off = 1.3;
  const OutlineDimensions d{6.0, 20.0};
  ExpectTop(Depth(track, BallOutline(d), Down(0.3, off)), -2.0 + 3.0 - std::sqrt(9.0 - off * off));
  ExpectTop(Depth(track, FlatOutline(d), Down(0.3, off)), -2.0);
  ExpectTop(Depth(track, BullNoseOutline(d, 2.0), Down(0.3, off)), -2.0 + 2.0 - std::sqrt(4.0 - 0.3 * 0.3));
  ExpectTop(Depth(track, FlatTipConeOutline(d, kPi / 2.0, 1.0), Down(0.3, off)), -2.0 + (off - 0.5));
  ExpectTop(Depth(track, RoundTipConeOutline(d, 2.0 * kPi / 3.0, 0.0), Down(0.3, off)), -2.0 + off / std::tan(kPi / 3.0));
  // A hollow flank about (3, 0), radius 2.5.
  const CutterOutline hollow = ListedOutline({{{0.5, 0.0}, {}}, {{3.0, 2.5}, Vector2d(3.0, 0.0)}, {{3.0, 20.0}, {}}});
  const double z = std::sqrt(2.5 * 2.5 - (3.0 - off) * (3.0 - off));
  ExpectTop(Depth(track, hollow, Down(0.3, off)), -2.0 + z);
}

// Nothing is taken where no pose comes: a hair beside the cutter's widest place.
TEST(DensePosesTest, RayBesideTheCutterIsNotTouched) {
  const ToolTrack track = Track({{-10, 0, -5}, {10, 0, -5}});
  EXPECT_TRUE(Depth(track, BallOutline({6.0, 20.0}), Down(0.0, 2.9999)).touched);
  const DenseDepth clear = Depth(track, BallOutline({6.0, 20.0}), Down(0.0, 3.0001));
  EXPECT_FALSE(clear.touched);
  EXPECT_EQ(clear.top_mm, 0.0);
}

// Oracle: the ends of a sweep are the tool itself.
TEST(DensePosesTest, EndOfASweepIsTheBallThere) {
  const ToolTrack track = Track({{-10, 0, -2}, {10, 0, -2}});
  ExpectTop(Depth(track, BallOutline({6.0, 20.0}), Down(11.0, 0.5)), 1.0 - std::sqrt(9.0 - 1.0 - 0.25));
}

// A step of half a metre between two moments: the groove between them is whole.
TEST(DensePosesTest, LongStepMissesNothing) {
  const ToolTrack track = Track({{-250, 0, -2}, {250, 0, -1}});
  // A ball on a slope 1 in 500: its envelope along x is a cylinder square to the way.
  const double slope = 1.0 / 500.0, centre = -1.5 + 3.0;
  ExpectTop(Depth(track, BallOutline({6.0, 20.0}), Down(0.0, 0.0)), centre - 3.0 * std::sqrt(1.0 + slope * slope));
}

// An undercut leaves the material above it standing; a later cut from above joins both.
TEST(DensePosesTest, MaterialOverAnUndercutStaysUntilItIsCut) {
  ToolTrack track = Track({{-10, 0, -12}, {10, 0, -12}});
  const CutterOutline ball = BallOutline({6.0, 3.0});   // flutes up to the equator only
  const DenseDepth under = Depth(track, ball, Down(0.0, 0.0));
  EXPECT_TRUE(under.touched);
  EXPECT_EQ(under.top_mm, 0.0);
  track = Track({{-10, 0, -12}, {10, 0, -12}, {0, 0, -9.5}, {0, 0, -1.0}});
  ExpectTop(Depth(track, ball, Down(0.0, 0.0)), -12.0);
}

TEST(DensePosesTest, CutThroughEndsAtTheBottom) {
  const DenseDepth through = Depth(Track({{-10, 0, -6}, {10, 0, -6}}), FlatOutline({6.0, 20.0}), Down(0.0, 0.0), -5.0);
  EXPECT_EQ(through.top_mm, -5.0);
}

// Oracle: 20,000 poses evenly over the sweep, each ball by its own closed form: a tip that
// stands still while the axis turns half a degree about x, seen at the tool's upper end.
TEST(DensePosesTest, TurningAxisAgreesWithEvenlySpacedPoses) {
  ToolTrack track = Track({{0, 0, -15}, {0.2, 0.1, -15}});
  const double turn = kPi / 360.0;
  track.axis_S[1] = Vector3d(0.0, std::sin(turn), std::cos(turn));
  const CutterOutline cone = RoundTipConeOutline({6.0, 25.0}, kPi / 3.0, 0.5);
  const Cutter cutter = Cutter::V(kPi / 3.0, 0.5, 6.0, 25.0);
  const DepthRay side{{0.4, 8.0, -9.0}, Vector3d::UnitY()};   // across, from the side of +y
  RayDepth start = Start(-10.0);
  start.stock_top_mm = 0.0;
  const DenseDepth depth = DepthByDensePoses(track, {cone}, {side}, {start}, 1).front();
  double top = 0.0;
  for (int n = 0; n <= 20000; ++n) {
    const double t = n / 20000.0;
    const Vector3d axis(0.0, std::sin(t * turn), std::cos(t * turn)), tip = Vector3d(0.2 * t, 0.1 * t, -15);
    // The far side of the cutter from +y: where it begins to reach, walking up from below.
    const auto inside = [&](double tau) {
      const Vector3d y = side.p_SQ + tau * side.up_S - tip;
      const double z = y.dot(axis), rho = (y - z * axis).norm();
      return cutter.SignedDistance({rho, 0.0, z}) <= 0.0;
    };
    if (n == 0) {
      EXPECT_FALSE(inside(0.0));
    }
    double low = -10.0, high = -8.0;   // high lies on the axis
    for (int i = 0; i < 50; ++i) {
      const double middle = 0.5 * (low + high);
      (inside(middle) ? high : low) = middle;
    }
    top = std::min(top, high);
  }
  // The cut hangs apart from the ray's upper end: a second ray from inside it shows its end.
  EXPECT_EQ(depth.top_mm, 0.0);
  RayDepth from_axis = start;
  from_axis.stock_top_mm = -8.0;
  const DenseDepth end = DepthByDensePoses(track, {cone}, {side}, {from_axis}, 1).front();
  EXPECT_NEAR(end.top_mm, top, end.bound_mm + 1e-6);
}

// Property: more than enough rays and sweeps at once give what one at a time gives, and
// threads change nothing.
TEST(DensePosesTest, AllAtOnceIsOneAtATimeForAnyThreads) {
  std::mt19937_64 rng(5);
  std::vector<Vector3d> tips;
  for (int i = 0; i < 60; ++i) {
    const Vector3d p = RandomPoint(rng, -15, 15);
    tips.push_back({p.x(), p.y(), -2.0 + 0.1 * p.z()});
  }
  const ToolTrack track = Track(tips);
  const CutterOutline ball = BallOutline({6.0, 20.0});
  std::vector<DepthRay> rays;
  for (int i = 0; i < 40; ++i) {
    const Vector3d p = RandomPoint(rng, -15, 15);
    rays.push_back(Down(p.x(), p.y()));
  }
  const std::vector<RayDepth> starts(rays.size(), Start());
  const auto all = DepthByDensePoses(track, {ball}, rays, starts, 2);
  for (std::size_t i = 0; i < rays.size(); ++i) {
    const DenseDepth one = Depth(track, ball, rays[i]);
    EXPECT_EQ(all[i].top_mm, one.top_mm);
    EXPECT_EQ(all[i].bound_mm, one.bound_mm);
    EXPECT_EQ(all[i].touched, one.touched);
  }
}

TEST(RevolvedSolidTest, SlabOfAConeClipsLinesAtBothFlanksAndEnds) {
  const auto slabs = SlabsOf(RoundTipConeOutline({6.0, 10.0}, kPi / 2.0, 0.0), 1e-4);
  ASSERT_EQ(slabs.size(), 2u);   // cone and cylinder
  // Level line at z = 2 through the axis: from -2 to 2.
  const LinePiece level = slabs[0].Inside({2.0L, 0.0L, 4.0L, 0.0L, 1.0L});
  EXPECT_NEAR(static_cast<double>(level.lo), -2.0, 1e-15);
  EXPECT_NEAR(static_cast<double>(level.hi), 2.0, 1e-15);
  // Upright line 1 beside the axis: from z = 1 to the top of the cone at 3.
  const LinePiece upright = slabs[0].Inside({0.0L, 1.0L, 1.0L, 0.0L, 1.0L});
  EXPECT_NEAR(static_cast<double>(upright.lo), 1.0, 1e-15);
  EXPECT_NEAR(static_cast<double>(upright.hi), 3.0, 1e-15);
  // Grown by g the flank lies g sqrt 2 lower, but not farther out than 3 + g.
  const LinePiece grown = slabs[0].Grown({0.0L, 1.0L, 1.0L, 0.0L, 1.0L}, 0.1L);
  EXPECT_NEAR(static_cast<double>(grown.lo), 1.0 - 0.1 * std::sqrt(2.0), 1e-12);
  EXPECT_TRUE(slabs[0].Grown({0.0L, 1.0L, 9.7L, 0.0L, 1.0L}, 0.1L).empty());
}

}  // namespace
}  // namespace aircut::sim
