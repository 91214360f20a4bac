// What balls cannot reach on a target mesh: closings in closed form.
#include <cmath>
#include <memory>

#include <gtest/gtest.h>

#include "sim/unreachable.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;

// A surface that is the same all along y, through points (x, z), air to the left of the way.
MeshIndex Extruded(const std::vector<Vector2d>& points) {
  Mesh mesh;
  for (const Vector2d& p : points) {
    for (const double y : {-60.0, 60.0}) mesh.vertices.emplace_back(p.x(), y, p.y());
    if (mesh.vertices.size() < 4) continue;
    const int k = static_cast<int>(mesh.vertices.size()) - 4;
    mesh.triangles.push_back({k, k + 2, k + 3});
    mesh.triangles.push_back({k, k + 3, k + 1});
  }
  return MeshIndex(std::move(mesh));
}

DepthRay Up(double x, double z) { return {{x, 0.3, z}, Vector3d::UnitZ()}; }

// The stated error: touching within 0.01 mm, 1 % of the radius above.
void ExpectHeight(double height_mm, double expected_mm, double radius_mm) {
  EXPECT_GT(height_mm, expected_mm - 0.03);
  EXPECT_LT(height_mm, expected_mm + 0.01 * radius_mm);
}

// Oracle: a ball that touches floor and wall leaves r - sqrt(r^2 - (r - x)^2) on the floor.
TEST(UnreachableTest, InsideCornerIsFilledByTheBallsRound) {
  const MeshIndex corner = Extruded({{0, 30}, {0, 0}, {40, 0}});
  for (const double r : {1.5, 3.0}) {
    for (const double part : {0.2, 0.5, 0.8}) {
      const double x = part * r;
      ExpectHeight(HeightOutOfReach(corner, r, Up(x, 0), 25.0), r - std::sqrt(r * r - (r - x) * (r - x)), r);
    }
    EXPECT_EQ(HeightOutOfReach(corner, r, Up(1.01 * r, 0), 25.0), 0.0);
    EXPECT_EQ(HeightOutOfReach(corner, r, Up(5 * r, 0), 25.0), 0.0);
  }
}

// Oracle: a ball wider than a groove hangs between its edges, sqrt(r^2 - w^2 / 4) below
// its centre.
TEST(UnreachableTest, NarrowFloorIsOutOfReachOfAWiderBall) {
  const double w = 2.0, h = 3.0, r = 3.0;
  const MeshIndex groove = Extruded({{-20, 0}, {0, 0}, {0, -h}, {w, -h}, {w, 0}, {22, 0}});
  for (const double x : {0.3, 1.0, 1.7}) {
    const double from_middle = x - 0.5 * w;
    ExpectHeight(HeightOutOfReach(groove, r, Up(x, -h), 10.0),
                 h + std::sqrt(r * r - 0.25 * w * w) - std::sqrt(r * r - from_middle * from_middle), r);
  }
  EXPECT_EQ(HeightOutOfReach(groove, 0.99, Up(1.0, -h), 10.0), 0.0);   // this one goes in
  EXPECT_EQ(HeightOutOfReach(groove, r, Up(1.0, -h), 0.5), 0.5);      // no more than was asked for
}

// Oracle: in a right angle that stands on its tip the centre is r sqrt 2 above it.
TEST(UnreachableTest, SharpValleyKeepsWhatTheBallBridges) {
  const MeshIndex valley = Extruded({{-30, 30}, {0, 0}, {30, 30}});
  ExpectHeight(HeightOutOfReach(valley, 2.0, Up(0.0, 0.0), 20.0), 2.0 * (std::sqrt(2.0) - 1.0), 2.0);
}

std::vector<Vector2d> RoundCorner(double radius_mm) {
  std::vector<Vector2d> points = {{0, 30}};
  for (int n = 0; n <= 45; ++n) {
    const double a = kPi + 0.5 * kPi * n / 45;
    points.emplace_back(radius_mm + radius_mm * std::cos(a), radius_mm + radius_mm * std::sin(a));
  }
  points.emplace_back(40, 0);
  return points;
}

// Nearly: a corner with just the ball's radius, in facets of two degrees, is reached all over.
// In the middle of facets, where samples lie, exactly; at their edges within a third of
// the default leftover limit.
TEST(UnreachableTest, CornerOfJustTheBallsRadiusIsReached) {
  const MeshIndex corner = Extruded(RoundCorner(3.0));
  double larger_ball = 0.0;
  for (int n = 1; n < 90; ++n) {
    const double a = kPi + 0.5 * kPi * n / 90;
    const double facet = 3.0 * std::cos(kPi / 180.0);   // odd n lie in the middle of a facet
    const double rho = n % 2 == 0 ? 3.0 : facet;
    const DepthRay ray = Up(3.0 + rho * std::cos(a), 3.0 + rho * std::sin(a));
    EXPECT_LE(HeightOutOfReach(corner, 3.0, ray, 10.0), n % 2 == 0 ? 0.1 : 0.0) << n;
    larger_ball = std::max(larger_ball, HeightOutOfReach(corner, 4.0, ray, 10.0));
  }
  EXPECT_GT(larger_ball, 0.2);
}

struct Corner {
  Job job;
  Run run;
};

// One sample in the corner, 0.75 mm from its wall, the face 2 mm high there.
Corner CornerCutBy(const Cutter& cutter) {
  Corner c;
  c.job.design.mesh_S = std::make_shared<const MeshIndex>(Extruded({{0, 30}, {0, 0}, {40, 0}}));
  c.run.track = UprightTrack(cutter, {{3, -5, 0}, {3, 5, 0}});
  DesignSample sample;
  sample.ray = Up(0.75, 0.0);
  c.run.samples = {sample};
  c.run.depths.resize(1);
  c.run.depths[0].top_mm = 2.0;
  return c;
}

TEST(UnreachableTest, TheSmallestRoundOfTheCuttersCounts) {
  const double expected = 3.0 - std::sqrt(9.0 - 2.25 * 2.25);
  Corner one = CornerCutBy(Cutter::Ball(6, 20));
  ASSERT_EQ(HeightsOutOfReach(one.job, one.run, 1).size(), 1u);
  // What is excused is less what the descent may read too high.
  EXPECT_LE(HeightsOutOfReach(one.job, one.run, 1)[0], expected);
  ExpectHeight(HeightsOutOfReach(one.job, one.run, 1)[0] + kDescent_radii * 3.0, expected, 3.0);
  EXPECT_EQ(HeightsOutOfReach(one.job, one.run, 1), HeightsOutOfReach(one.job, one.run, 3));
  one.run.depths[0].top_mm = 0.2;   // within the limit: nothing is asked
  EXPECT_EQ(HeightsOutOfReach(one.job, one.run, 1)[0], 0.0);
  one.run.depths[0].top_mm = 2.0;
  one.run.track.tools.push_back({2, Cutter::Ball(1.0, 20), {}});
  one.run.track.sweeps[0].tool = 1;
  EXPECT_EQ(HeightsOutOfReach(one.job, one.run, 1)[0], 0.0);   // a small one was there
  one.run.track.sweeps[0].rapid = true;                        // but cut nothing
  EXPECT_TRUE(HeightsOutOfReach(one.job, one.run, 1).empty());
  const Corner sharp = CornerCutBy(Cutter::V(kPi / 3.0, 0.0, 12, 20));
  EXPECT_TRUE(HeightsOutOfReach(sharp.job, sharp.run, 1).empty());
}

}  // namespace
}  // namespace aircut::sim
