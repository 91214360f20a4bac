// The wide searches that distances of solids stand on, against their definitions.

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "sim/box_tree.h"
#include "sim/convex_core.h"
#include "sim/solid_kernel.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

std::vector<Vector3d> RandomPoints(std::mt19937_64& rng, int count) {
  std::uniform_real_distribution<double> side(-100, 100);
  std::vector<Vector3d> points;
  for (int i = 0; i < count; ++i) {
    const double x = side(rng), y = side(rng), z = side(rng);
    points.emplace_back(x, y, z);
  }
  return points;
}

// Every count from one lane alone to several with a rest: the highest point by a plain
// search. Of two as high either may be told.
TEST(SolidBoundsTest, SupportIsTheHighestPoint) {
  std::mt19937_64 rng(41);
  for (int count = 1; count <= 40; ++count) {
    const auto points = RandomPoints(rng, count);
    const HullPoints hull(points);
    for (const Vector3d& along : RandomPoints(rng, 20)) {
      double highest = -std::numeric_limits<double>::infinity();
      for (const Vector3d& p : points) {
        highest = std::max(highest, p.x() * along.x() + p.y() * along.y() + p.z() * along.z());
      }
      const Vector3d p = hull.Support(along);
      EXPECT_EQ(p.x() * along.x() + p.y() * along.y() + p.z() * along.z(), highest) << count;
      EXPECT_EQ(hull.HeightAlong(along), highest) << count;
    }
  }
}

TEST(SolidBoundsTest, PointsComeBackAsGiven) {
  std::mt19937_64 rng(42);
  const auto points = RandomPoints(rng, 19);
  const HullPoints hull(points);
  for (int i = 0; i < 19; ++i) EXPECT_EQ(hull.Point(i), points[static_cast<std::size_t>(i)]) << i;
}

// Twice the same point, and a flat top: the answer is one of the points all the same.
TEST(SolidBoundsTest, PointsAsHighAsEachOtherStayPoints) {
  const std::vector<Vector3d> points(11, Vector3d(1, 2, 3));
  EXPECT_EQ(HullPoints(points).Support({0, 0, 1}), Vector3d(1, 2, 3));
  EXPECT_EQ(HullPoints(points).Support({0, 0, 0}), Vector3d(1, 2, 3));
}

// A box of half sizes and a cylinder of two discs reach as far as closed forms say.
TEST(SolidBoundsTest, BoxAndCylinderReachAsFarAsClosedFormsSay) {
  std::mt19937_64 rng(43);
  kinematics::Pose X(Eigen::Translation3d(10, -20, 30));
  X.rotate(Eigen::AngleAxisd(0.7, Vector3d(1, 2, -1).normalized()));
  ConvexCore box, cylinder;
  box.AddBox({Vector3d(-1, -2, -3), Vector3d(4, 5, 6)}, X);
  const Vector3d from(1, 2, 3), to = X * Vector3d(0, 0, 50), axis = (to - from).normalized();
  cylinder.AddCylinder(from, to, axis, 7);
  for (const Vector3d& way : RandomPoints(rng, 100)) {
    const Vector3d n = way.normalized();
    double corner = -1e30;
    for (int k = 0; k < 8; ++k) {
      corner = std::max(corner, n.dot(X * Vector3d(k & 1 ? 4 : -1, k & 2 ? 5 : -2, k & 4 ? 6 : -3)));
    }
    EXPECT_NEAR(box.HeightAlong(n), corner, 1e-12);
    EXPECT_NEAR(n.dot(box.Support(n)), corner, 1e-12);
    EXPECT_NEAR(box.Bounds().max().x(), box.HeightAlong(Vector3d::UnitX()), 1e-12);
    const double rim = std::max(n.dot(from), n.dot(to)) + 7 * n.cross(axis).norm();
    EXPECT_NEAR(cylinder.HeightAlong(n), rim, 1e-12);
    EXPECT_NEAR(n.dot(cylinder.Support(n)), rim, 1e-12);
  }
}

// Every instruction set that this processor has gives the same bits.
void ExpectSameFromAll(const BoxNode& node, const SolidBounds& solid, const ChildBounds& expected) {
  for (int i = 0; i < SolidKernelCount(); ++i) {
    ChildBounds other;
    SolidKernelsAt(i).bound(node.low, node.high, solid, &other);
    for (int slot = 0; slot < 3; ++slot) {
      EXPECT_EQ(other.plane_mm[slot], expected.plane_mm[slot]) << SolidKernelsAt(i).instruction_set;
      EXPECT_EQ(other.boxes2[slot], expected.boxes2[slot]) << SolidKernelsAt(i).instruction_set;
      EXPECT_EQ(other.near2[slot], expected.near2[slot]) << SolidKernelsAt(i).instruction_set;
    }
  }
}

// Of corners as high as each other, too, all instruction sets tell the same one.
TEST(SolidBoundsTest, AllInstructionSetsTellTheSameCorner) {
  std::mt19937_64 rng(45);
  for (int count = 1; count <= 9; ++count) {
    std::vector<CornerLanes> corners(static_cast<std::size_t>(count));
    for (CornerLanes& lanes : corners) {
      const auto points = RandomPoints(rng, kCornerLanes);
      for (int k = 0; k < kCornerLanes; ++k) {
        const Vector3d p = points[static_cast<std::size_t>(k)];
        lanes.x[k] = p.x();
        lanes.y[k] = p.y();
        lanes.z[k] = std::round(0.02 * p.z());   // few heights: many corners share one
      }
    }
    auto ways = RandomPoints(rng, 20);
    ways.emplace_back(0, 0, 1);
    for (const Vector3d& along : ways) {
      const int at = SolidKernelsAt(0).farthest(corners.data(), count, along.data());
      const double height = SolidKernelsAt(0).height(corners.data(), count, along.data());
      for (int i = 1; i < SolidKernelCount(); ++i) {
        EXPECT_EQ(SolidKernelsAt(i).farthest(corners.data(), count, along.data()), at);
        EXPECT_EQ(SolidKernelsAt(i).height(corners.data(), count, along.data()), height);
      }
    }
  }
}

// Distances of boxes from a box, a point and a half space, by the library's own boxes
// and by the corners. A slot left empty disturbs none of the others.
TEST(SolidBoundsTest, ChildBoundsAreDistancesOfBoxes) {
  std::mt19937_64 rng(44);
  for (int round = 0; round < 200; ++round) {
    const auto p = RandomPoints(rng, 8);
    BoxNode node;
    std::vector<Eigen::AlignedBox3d> boxes;
    for (int slot = 0; slot < 4; ++slot) {
      const auto a = p[static_cast<std::size_t>(2 * slot)].cast<float>().eval(), b = p[static_cast<std::size_t>(2 * slot + 1)].cast<float>().eval();
      const float inf = std::numeric_limits<float>::infinity();
      node.child[slot] = slot == 3 ? -1 : 0;
      node.count[slot] = 0;
      for (int k = 0; k < 3; ++k) {
        node.low[k][slot] = slot == 3 ? inf : std::min(a[k], b[k]);
        node.high[k][slot] = slot == 3 ? -inf : std::max(a[k], b[k]);
      }
      boxes.emplace_back(a.cwiseMin(b).cast<double>(), a.cwiseMax(b).cast<double>());
    }
    const auto own = RandomPoints(rng, 5);
    const Eigen::AlignedBox3d solid_box(own[0].cwiseMin(own[1]), own[0].cwiseMax(own[1]));
    SolidBounds solid;
    for (int k = 0; k < 3; ++k) {
      solid.n[0][k] = own[2].normalized()[k];
      solid.n[1][k] = own[3].normalized()[k];
      solid.min[k] = solid_box.min()[k];
      solid.max[k] = solid_box.max()[k];
      solid.near_p[k] = own[4][k];
    }
    solid.low_mm[0] = 12;
    solid.low_mm[1] = -5;
    ChildBounds bounds;
    ChooseSolidKernels().bound(node.low, node.high, solid, &bounds);
    ExpectSameFromAll(node, solid, bounds);
    for (int slot = 0; slot < 3; ++slot) {
      const Eigen::AlignedBox3d& box = boxes[static_cast<std::size_t>(slot)];
      double gap[2] = {1e30, 1e30};
      for (int k = 0; k < 8; ++k) {
        const Vector3d corner = box.corner(static_cast<Eigen::AlignedBox3d::CornerType>(k));
        for (int i = 0; i < 2; ++i) gap[i] = std::min(gap[i], solid.low_mm[i] - corner.dot(own[static_cast<std::size_t>(2 + i)].normalized()));
      }
      EXPECT_NEAR(bounds.plane_mm[slot], std::max(gap[0], gap[1]), 1e-10);
      EXPECT_NEAR(bounds.boxes2[slot], box.squaredExteriorDistance(solid_box), 1e-9);
      EXPECT_NEAR(bounds.near2[slot], box.squaredExteriorDistance(own[4]), 1e-9);
    }
  }
}

}  // namespace
}  // namespace aircut::sim
