#include "sim/depth_rays.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "sim/sweep.h"
#include "tests/support/ball_finishing.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;

std::vector<DepthRay> UpRays(const std::vector<Vector3d>& points) {
  std::vector<DepthRay> rays;
  for (const Vector3d& p : points) rays.push_back({p, Vector3d::UnitZ()});
  return rays;
}

// Oracle: the circle. Across a ball slot the floor is at r - sqrt(r^2 - x^2).
TEST(DepthRaysTest, BallSlotHasACircularFloor) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-20, 0, -2}, {20, 0, -2}});
  std::vector<Vector3d> points;
  for (int n = 0; n <= 20; ++n) points.push_back({1.3, 0.1 * n, -2.0});
  const auto depths = CutRays(*Block(60, 30, 10), track, UpRays(points), 0.0, 2);
  for (int n = 0; n <= 20; ++n) {
    const double y = 0.1 * n, floor = 3.0 - std::sqrt(9.0 - y * y);
    EXPECT_TRUE(depths[static_cast<std::size_t>(n)].touched);
    EXPECT_NEAR(depths[static_cast<std::size_t>(n)].top_mm, floor, kRayBound_mm) << y;
  }
}

// Oracle: the ball. A hole bored in from the side by a flute of a half ball and 2 mm of
// cylinder, its flat top 2 mm below the face, leaves the face standing and a hollow
// from that flat down to the ball's circle.
TEST(DepthRaysTest, HoleFromTheSideIsAHollowUnderStandingMaterial) {
  const ToolTrack track = UprightTrack(Cutter::Ball(4, 4), {{-40, 0, -6}, {10, 0, -6}});
  const auto depths = CutRays(*Block(60, 30, 10), track,
                              UpRays({{0, 0, -7}, {0, 1.2, -7}, {0, 2.5, -7}, {0, 0, -2.5}, {20, 0, -7}}), 0.0, 2);
  for (std::size_t n = 0; n < 2; ++n) {
    const double half = n == 0 ? 2.0 : std::sqrt(4.0 - 1.2 * 1.2);
    ASSERT_TRUE(depths[n].hollow) << n;
    EXPECT_NEAR(depths[n].top_mm, 7.0, kRayBound_mm);   // the face above stands
    EXPECT_NEAR(depths[n].hollow->top_mm, 5.0, kRayBound_mm);
    EXPECT_NEAR(depths[n].hollow->bottom_mm, 3.0 - half, kRayBound_mm);
    EXPECT_EQ(depths[n].hollow->sweep, 0);
  }
  EXPECT_FALSE(depths[2].hollow);
  ASSERT_TRUE(depths[3].hollow);
  EXPECT_NEAR(depths[3].hollow->bottom_mm, -kHollowsBelow_mm, kRayBound_mm);   // as far as is looked
  EXPECT_FALSE(depths[4].hollow);
}

// Oracle: the cone. The floor of a sharp V groove rises by 1 / tan(half angle);
// at the bottom line the depth is that of the tip (a grid alone loses it there).
TEST(DepthRaysTest, VGrooveBottomIsExact) {
  const Cutter v = Cutter::V(kPi / 3.0, 0.0, 12.0, 16.0);
  const ToolTrack track = UprightTrack(v, {{-20, 0, -3}, {20, 0, -3}});
  const std::vector<double> across = {0.0, 0.2, 0.5, 1.0, 1.5};
  std::vector<Vector3d> points;
  for (const double y : across) points.push_back({0.7, y, -3.0});
  const auto depths = CutRays(*Block(60, 30, 10), track, UpRays(points), 0.0, 2);
  for (std::size_t n = 0; n < across.size(); ++n) {
    EXPECT_NEAR(depths[n].top_mm, across[n] / std::tan(kPi / 6.0), kRayBound_mm) << across[n];
  }
}

// Oracle: dense poses in long double. 1,000 places of the finishing workload,
// each capsule searched by golden section.
TEST(DepthRaysTest, FinishedFaceAgreesWithDensePosesInLongDouble) {
  const ToolTrack track = BallFinishing(24);
  std::mt19937_64 rng(9);
  std::uniform_real_distribution<double> x(5.0, 195.0), y(3.5, 8.0);
  std::vector<Vector3d> points;
  for (int n = 0; n < 1000; ++n) points.push_back({x(rng), y(rng), -2.5});
  const auto depths = CutRays(*FinishingBlock(), track, UpRays(points), 0.0, 2);
  for (std::size_t n = 0; n < points.size(); ++n) {
    const double exact = static_cast<double>(SweptHeight(track, points[n].x(), points[n].y()));
    EXPECT_NEAR(points[n].z() + depths[n].top_mm, exact, 1e-6) << points[n].transpose();
  }
}

// Oracle: the swept distance itself. A tilting V; at the reported top the tool's
// surface passes, just above it is air.
TEST(DepthRaysTest, TurningAxisEndsOnTheSweptSurface) {
  ToolTrack track = UprightTrack(Cutter::V(kPi / 3.0, 0.2, 12.0, 16.0), {{-2, 0, -2}, {-1, 0, -2.2}, {0, 0.3, -2}});
  for (std::size_t m = 0; m < 3; ++m) {
    track.axis_S[m] = Eigen::AngleAxisd(0.008 * static_cast<double>(m), Vector3d::UnitX()) * Vector3d::UnitZ();
  }
  std::vector<Vector3d> points;
  for (double px = -1.8; px < 0.0; px += 0.15) points.push_back({px, 0.05, -2.0});
  const auto depths = CutRays(*Block(30, 30, 10), track, UpRays(points), 0.0, 1);
  for (std::size_t n = 0; n < points.size(); ++n) {
    ASSERT_TRUE(depths[n].touched);
    const Vector3d top = points[n] + depths[n].top_mm * Vector3d::UnitZ();
    double least = 1e9;
    for (int i = 0; i < 2; ++i) {
      for (int s = 0; s < static_cast<int>(track.tools[0].cutter.strings().size()); ++s) {
        least = std::min(least, DistanceToSweep(MakeStringSweep(track, i, s), top).distance_mm);
      }
    }
    EXPECT_NEAR(least, 0.0, kRayBound_mm) << points[n].transpose();
  }
}

TEST(DepthRaysTest, UntouchedAndMissingMaterialAreTold) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-20, 0, -2}, {20, 0, -2}});
  const auto depths = CutRays(*Block(60, 30, 10), track, UpRays({{0, 10, -1}, {0, 40, -1}}), 0.0, 2);
  EXPECT_TRUE(depths[0].has_material);
  EXPECT_FALSE(depths[0].touched);
  EXPECT_NEAR(depths[0].top_mm, 1.0, 1e-9);
  EXPECT_FALSE(depths[1].has_material);
}

// A cut far below the design is followed all the way, and one through the plate
// says so.
TEST(DepthRaysTest, DeepCutAndCutThroughAreFollowed) {
  const ToolTrack deep = UprightTrack(Cutter::Ball(6, 30), {{-20, 0, -9}, {20, 0, -9}});
  const RayDepth d = CutRays(*Block(60, 30, 20), deep, UpRays({{0, 0, -1}}), 0.0, 2)[0];
  EXPECT_NEAR(d.top_mm, -8.0, kRayBound_mm);
  EXPECT_FALSE(d.cut_through);
  const RayDepth through = CutRays(*Block(60, 30, 5), deep, UpRays({{0, 0, -1}}), 0.0, 2)[0];
  EXPECT_TRUE(through.cut_through);
  EXPECT_NEAR(through.top_mm, -4.0, kRayBound_mm);
}

// A tunnel under standing material does not lower the face above it.
TEST(DepthRaysTest, MaterialAboveATunnelStands) {
  ToolTrack track = UprightTrack(Cutter::Ball(4, 4), {{0, -30, -6}, {0, 30, -6}});
  const RayDepth d = CutRays(*Block(60, 30, 20), track, UpRays({{0, 0, -1}}), 0.0, 2)[0];
  EXPECT_NEAR(d.top_mm, 1.0, 1e-9);
}

}  // namespace
}  // namespace aircut::sim
