// Convex hulls as bodies, and which meshes become one.
#include <cmath>
#include <memory>
#include <random>

#include <gtest/gtest.h>

#include "sim/collision_world.h"
#include "sim/convex_mesh.h"
#include "sim/shape_extent.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

HullShape HullOf(const Mesh& mesh) { return {std::make_shared<const Mesh>(mesh)}; }

double Distance(const Shape& a, const Pose& X_WA, const Shape& b, const Pose& X_WB) {
  return CollisionWorld({{"a", {a}}, {"b", {b}}}).Distance(0, X_WA, 1, X_WB).distance_mm;
}

Pose At(double x, double y, double z) { return Pose(Eigen::Translation3d(x, y, z)); }

HullShape Cuboid(double x, double y, double z) {
  return HullOf(BoxMesh({-0.5 * x, -0.5 * y, -0.5 * z}, {0.5 * x, 0.5 * y, 0.5 * z}));
}

// GEO-11, GEO-12, GEO-14 with hulls of the corners in place of boxes.
TEST(HullShapeTest, HullsOfCornersAreTheBoxes) {
  EXPECT_NEAR(Distance(Cuboid(6, 10, 2), Pose::Identity(), Cuboid(2, 2, 2), At(25, 20, 5)),
              std::sqrt(21.0 * 21 + 14 * 14 + 3 * 3), 1e-9);
  Pose X_WA = At(-2, 1, 0.5), X_WB = At(2, 0.5, 0.5);
  X_WA.rotate(Eigen::AngleAxisd(std::atan(1.0), Vector3d::UnitZ()));
  X_WB.rotate(Eigen::AngleAxisd(std::atan(1.0), Vector3d::UnitY()));
  EXPECT_NEAR(Distance(Cuboid(1, 1, 1), X_WA, Cuboid(1, 1, 1), X_WB), 4.0 - std::sqrt(2.0), 1e-9);
  for (const double x : {2.0, 1.01, 0.99}) {
    EXPECT_NEAR(Distance(Cuboid(1, 1, 1), Pose::Identity(), Cuboid(1, 1, 1), At(x, 0, 0)), x - 1.0, 1e-5) << x;
  }
}

// Oracle: every vertex of the mesh itself, whatever Prepare has left out.
TEST(HullShapeTest, HeightsAreThoseOfAllVertices) {
  const Mesh ball = IcosphereMesh(50, 3);
  const PreparedShape hull = Prepare(HullOf(ball));
  std::mt19937_64 rng(3);
  for (int i = 0; i < 200; ++i) {
    const Vector3d n = RandomPose(rng, 1.0).linear().col(0);
    double low = 1e9, high = -1e9;
    for (const Vector3d& p : ball.vertices) {
      low = std::min(low, n.dot(p));
      high = std::max(high, n.dot(p));
    }
    EXPECT_NEAR(LowestAlong(hull, n), low, 1e-6);
    EXPECT_LE(LowestAlong(hull, n), low + 1e-12);
    EXPECT_NEAR(HighestAlong(hull, n), high, 1e-6);
    EXPECT_GE(HighestAlong(hull, n), high - 1e-12);
  }
}

// What lies inside is left out and changes nothing.
TEST(HullShapeTest, PointsInsideChangeNothing) {
  Mesh filled = BoxMesh({-5, -5, -5}, {5, 5, 5});
  for (const double x : {-4.0, 0.0, 4.0}) filled.vertices.emplace_back(x, 0.5 * x, 1.0);
  const double expected = Distance(Cuboid(10, 10, 10), At(0, 0, 12), Cuboid(4, 4, 4), Pose::Identity());
  EXPECT_NEAR(Distance(HullOf(filled), At(0, 0, 12), Cuboid(4, 4, 4), Pose::Identity()), expected, 1e-9);
  EXPECT_THROW(CollisionWorld({{"a", {HullShape{}}}}), std::invalid_argument);
}

TEST(HullShapeTest, OnlyConvexMeshesAreTheirOwnHull) {
  EXPECT_TRUE(IsConvex(BoxMesh({0, 0, 0}, {1, 2, 3})));
  EXPECT_TRUE(IsConvex(IcosphereMesh(40, 2)));
  Mesh dented = IcosphereMesh(40, 2);
  dented.vertices.front() *= 0.9;
  EXPECT_FALSE(IsConvex(dented));
  EXPECT_FALSE(IsConvex(Mesh{}));
  Mesh two = BoxMesh({0, 0, 0}, {1, 1, 1});
  const Mesh other = BoxMesh({3, 0, 0}, {4, 1, 1});
  for (const auto& t : other.triangles) two.triangles.push_back({t[0] + 8, t[1] + 8, t[2] + 8});
  two.vertices.insert(two.vertices.end(), other.vertices.begin(), other.vertices.end());
  EXPECT_FALSE(IsConvex(two));
}

}  // namespace
}  // namespace aircut::sim
