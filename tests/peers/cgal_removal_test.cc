// A second opinion on removal by cutters with corners: exact solids of CGAL.
#include <random>

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/corefinement.h>
#include <CGAL/Polygon_mesh_processing/measure.h>
#include <CGAL/Surface_mesh.h>
#include <CGAL/convex_hull_3.h>
#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "sim/swept_cut.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Solid = CGAL::Surface_mesh<Kernel::Point_3>;
using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;

Solid HullOf(const std::vector<Vector3d>& points) {
  std::vector<Kernel::Point_3> p;
  for (const Vector3d& q : points) p.emplace_back(q.x(), q.y(), q.z());
  Solid hull;
  CGAL::convex_hull_3(p.begin(), p.end(), hull);
  return hull;
}

// A convex cutter turned into a prism of `sides`, its corners on circles `grow`
// times as wide, and moved on a line: the hull of both ends, which is what a convex
// body sweeps.
Solid SweptPrism(const std::vector<Vector2d>& outline, const Vector3d& from, const Vector3d& to, double grow) {
  constexpr int kSides = 48;
  std::vector<Vector3d> points;
  for (const Vector2d& p : outline) {
    for (int n = 0; n < kSides; ++n) {
      const double angle = 2 * kPi * (n + 0.3) / kSides;
      const Vector3d at(grow * p.x() * std::cos(angle), grow * p.x() * std::sin(angle), p.y());
      points.push_back(from + at);
      points.push_back(to + at);
    }
  }
  return HullOf(points);
}

// What one sweep has in common with the block.
double RemovedBy(const std::vector<Vector2d>& outline, const Vector3d& from, const Vector3d& to, double grow) {
  std::vector<Vector3d> corners;
  for (int n = 0; n < 8; ++n) corners.push_back({n & 1 ? 17.0 : -17.0, n & 2 ? 17.0 : -17.0, n & 4 ? 0.0 : -8.0});
  Solid stock = HullOf(corners), sweep = SweptPrism(outline, from, to, grow), common;
  EXPECT_TRUE(CGAL::Polygon_mesh_processing::corefine_and_compute_intersection(stock, sweep, common));
  return CGAL::to_double(CGAL::Polygon_mesh_processing::volume(common));
}

// Peer: prisms inside and around the round cutter bracket what it removes. Random
// sweeps, sloping up and down.
TEST(CgalPeerTest, RandomSweepsOfCorneredCuttersRemoveTheSameVolume) {
  std::mt19937_64 rng(6);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  std::vector<Vector2d> bull = {{2, 0}};
  for (int n = 1; n <= 8; ++n) bull.push_back({2 + std::sin(n * kPi / 16), 1 - std::cos(n * kPi / 16)});
  bull.push_back({3, 20});
  struct Case {
    Cutter cutter;
    std::vector<Vector2d> outline;
  };
  const std::vector<Case> cases = {{Cutter::Of(FlatOutline({6, 20})), {{3, 0}, {3, 20}}},
                                   {Cutter::Of(FlatTipConeOutline({8, 20}, kPi / 2, 2)), {{1, 0}, {4, 3}, {4, 20}}},
                                   {Cutter::Of(BullNoseOutline({6, 20}, 1)), bull}};
  for (const Case& one : cases) {
    for (int n = 0; n < 4; ++n) {
      const Vector3d from(9 * c(rng), 9 * c(rng), -2.0 + c(rng)), to(9 * c(rng), 9 * c(rng), -2.0 + c(rng));
      CutOptions options;
      options.voxel_mm = 0.2;
      const double ours = CutGrid(Block(34, 34, 8), UprightTrack(one.cutter, {from, to}), options).removed_mm3;
      const double inside = RemovedBy(one.outline, from, to, 1.0), around = RemovedBy(one.outline, from, to, 1.0 / std::cos(kPi / 48));
      // A tenth of a voxel layer over walls and floor; the bull nose's chords lie up
      // to 0.005 mm inside its arc.
      const double bound = 0.1 * 0.2 * ((to - from).norm() + 6) * 14;
      EXPECT_LE(ours, around + bound);
      EXPECT_GE(ours, inside - bound);
      EXPECT_GT(inside, 20.0);
      EXPECT_LT(around - inside, 0.01 * inside);
    }
  }
}

}  // namespace
}  // namespace aircut::sim
