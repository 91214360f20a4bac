#include "sim/mesh_index.h"

#include <cmath>
#include <limits>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kExact_mm = 1e-9;   // promised by MeshIndex

// Nearest point of one triangle by another road than the index: least squares
// over the plane, then each side as a segment.
Vector3d NearestOnTriangle(const Vector3d& p, const Vector3d& a, const Vector3d& b,
                           const Vector3d& c) {
  Vector3d best = a;
  const auto consider = [&](const Vector3d& q) {
    if ((q - p).squaredNorm() < (best - p).squaredNorm()) best = q;
  };
  const std::array<Vector3d, 4> ring{a, b, c, a};
  for (int k = 0; k < 3; ++k) {
    const Vector3d side = ring[k + 1] - ring[k];
    const double length2 = side.squaredNorm();
    const double t = length2 > 0 ? std::clamp((p - ring[k]).dot(side) / length2, 0.0, 1.0) : 0.0;
    consider(ring[k] + t * side);
  }
  const Vector3d n = (b - a).cross(c - a);
  if (n.squaredNorm() > 0) {
    const Vector3d foot = p - n.dot(p - a) / n.squaredNorm() * n;
    const double u = n.dot((b - a).cross(foot - a)), v = n.dot((c - b).cross(foot - b));
    const double w = n.dot((a - c).cross(foot - c));
    if (u >= 0 && v >= 0 && w >= 0) consider(foot);
  }
  return best;
}

double BruteDistance(const Mesh& mesh, const Vector3d& p) {
  double best = std::numeric_limits<double>::infinity();
  for (const auto& t : mesh.triangles) {
    const Vector3d q = NearestOnTriangle(p, mesh.vertices[t[0]], mesh.vertices[t[1]],
                                         mesh.vertices[t[2]]);
    best = std::min(best, (q - p).norm());
  }
  return best;
}

// Generalised winding number: 1 inside a closed mesh, 0 outside. Source:
// external-checks GEO-01, Jacobson, Kavan, Sorkine 2013; solid angle by
// van Oosterom and Strackee 1983.
double WindingNumber(const Mesh& mesh, const Vector3d& p) {
  double angle = 0.0;
  for (const auto& t : mesh.triangles) {
    const Vector3d a = mesh.vertices[t[0]] - p, b = mesh.vertices[t[1]] - p,
                   c = mesh.vertices[t[2]] - p;
    const double la = a.norm(), lb = b.norm(), lc = c.norm();
    angle += 2.0 * std::atan2(a.dot(b.cross(c)), la * lb * lc + a.dot(b) * lc + b.dot(c) * la +
                                                     c.dot(a) * lb);
  }
  return angle / (4.0 * std::acos(-1.0));
}

double BoxDistance(const Vector3d& half, const Vector3d& p) {
  const Vector3d q = p.cwiseAbs() - half;
  return q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0);
}

// A star-shaped body with dents: closed, far from convex.
Mesh DentedBall(int splits) {
  Mesh mesh = IcosphereMesh(1.0, splits);
  for (Vector3d& v : mesh.vertices) {
    v *= 30.0 * (1.0 + 0.35 * std::sin(5.0 * v.x()) * std::cos(4.0 * v.y() - v.z()));
  }
  return mesh;
}

// GEO-10: box of half size (1, 2, 3).
TEST(MeshIndexTest, BoxMatchesPublishedDistances) {
  const MeshIndex box(BoxMesh(Vector3d(-1, -2, -3), Vector3d(1, 2, 3)));
  EXPECT_NEAR(box.SignedDistance({3, 4, 1}), std::sqrt(8.0), 1e-7);
  EXPECT_NEAR(box.SignedDistance({0.5, 0, 0}), -0.5, 1e-7);
}

// Oracle: closed form of a box, points all around, on faces, edges and corners.
TEST(MeshIndexTest, BoxMatchesClosedFormEverywhere) {
  const Vector3d half(20, 35, 5);
  const MeshIndex box(BoxMesh(-half, half));
  std::mt19937_64 rng(1);
  for (int i = 0; i < 20000; ++i) {
    Vector3d p = RandomPoint(rng, -50, 50);
    if (i % 4 == 1) p.x() = half.x();
    if (i % 4 == 2) p = half + Vector3d::Constant(p.x());      // out of or into a corner
    if (i % 4 == 3) p = Vector3d(p.x(), half.y(), half.z());   // along an edge and its line
    EXPECT_NEAR(box.SignedDistance(p), BoxDistance(half, p), kExact_mm) << p.transpose();
  }
}

// Oracle: closed form of the sphere; the flats lie between the radius and the
// radius less the sag of the largest triangle.
TEST(MeshIndexTest, IcosphereMatchesSphereToItsTessellation) {
  const double radius_mm = 25.0;
  const MeshIndex ball(IcosphereMesh(radius_mm, 5));
  double sag_mm = 0.0;
  for (const auto& t : ball.mesh().triangles) {
    const auto& v = ball.mesh().vertices;
    const Vector3d n = (v[t[1]] - v[t[0]]).cross(v[t[2]] - v[t[0]]).normalized();
    sag_mm = std::max(sag_mm, radius_mm - n.dot(v[t[0]]));
  }
  ASSERT_LT(sag_mm, 0.01);
  std::mt19937_64 rng(2);
  for (int i = 0; i < 20000; ++i) {
    const Vector3d p = RandomPoint(rng, -40, 40);
    const double found = ball.SignedDistance(p), sphere = p.norm() - radius_mm;
    EXPECT_GE(found, sphere - kExact_mm);
    EXPECT_LE(found, sphere + sag_mm + kExact_mm);
  }
}

// Oracle: every triangle tried by another formula.
TEST(MeshIndexTest, ClosestPointMatchesBruteForce) {
  const MeshIndex index(DentedBall(3));
  std::mt19937_64 rng(3);
  for (int i = 0; i < 1000; ++i) {
    const Vector3d p = RandomPoint(rng, -60, 60);
    const MeshIndex::Closest found = index.ClosestPoint(p);
    EXPECT_NEAR(found.distance_mm, BruteDistance(index.mesh(), p), kExact_mm);
    EXPECT_NEAR((found.point - p).norm(), found.distance_mm, kExact_mm);
    const auto& t = index.mesh().triangles[found.triangle];
    const auto& v = index.mesh().vertices;
    EXPECT_NEAR((NearestOnTriangle(found.point, v[t[0]], v[t[1]], v[t[2]]) - found.point).norm(),
                0.0, kExact_mm);
  }
}

// Oracle: winding number by solid angles, on a body with dents.
TEST(MeshIndexTest, SignMatchesWindingNumber) {
  const MeshIndex index(DentedBall(3));
  std::mt19937_64 rng(4);
  int inside = 0;
  for (int i = 0; i < 2000; ++i) {
    const Vector3d p = RandomPoint(rng, -40, 40);
    const double winding = WindingNumber(index.mesh(), p);
    EXPECT_EQ(index.SignedDistance(p) < 0, winding > 0.5) << p.transpose();
    inside += winding > 0.5 ? 1 : 0;
  }
  EXPECT_GT(inside, 200);
}

// The mesh format without topology: every triangle brings its own vertices.
TEST(MeshIndexTest, UnsharedVerticesGiveTheSameSigns) {
  const Mesh shared = BoxMesh(Vector3d(-10, -10, -10), Vector3d(10, 10, 10));
  Mesh loose;
  for (const auto& t : shared.triangles) {
    const auto n = static_cast<std::int32_t>(loose.vertices.size());
    for (int k = 0; k < 3; ++k) loose.vertices.push_back(shared.vertices[t[k]]);
    loose.triangles.push_back({n, n + 1, n + 2});
  }
  const MeshIndex a(shared), b(loose);
  std::mt19937_64 rng(5);
  for (int i = 0; i < 5000; ++i) {
    const Vector3d p = RandomPoint(rng, -20, 20);
    EXPECT_EQ(a.SignedDistance(p), b.SignedDistance(p)) << p.transpose();
  }
}

TEST(MeshIndexTest, RadiusLimitsTheSearch) {
  const MeshIndex box(BoxMesh(Vector3d(0, 0, 0), Vector3d(10, 10, 10)));
  EXPECT_EQ(box.ClosestPoint({5, 5, 15}, 4.999).triangle, -1);
  EXPECT_GE(box.ClosestPoint({5, 5, 15}, 5.001).triangle, 0);
  EXPECT_GE(box.ClosestPoint({5, 5, 10}, 0.0).triangle, 0);
}

// Far from the origin single precision is coarse; the tree's float boxes must
// not cost a digit. Oracle: the same mesh and points without the shift.
TEST(MeshIndexTest, FarFromTheOriginNothingIsLost) {
  const Vector3d shift(12345, -23456, 34567);
  Mesh far = DentedBall(3);
  const MeshIndex near_index(far);
  for (Vector3d& v : far.vertices) v += shift;
  const MeshIndex far_index(far);
  std::mt19937_64 rng(6);
  for (int i = 0; i < 2000; ++i) {
    const Vector3d p = RandomPoint(rng, -50, 50);
    EXPECT_NEAR(far_index.SignedDistance(p + shift), near_index.SignedDistance(p), 1e-9);
  }
}

struct ClusterCase {
  const char* name;
  Mesh mesh;
  double voxel_mm;
};

std::vector<ClusterCase> ClusterCases() {
  const auto wavy = [](double x, double y) { return 20 + 2 * std::sin(0.2 * x) * std::cos(0.15 * y); };
  return {{"coarse box", BoxMesh(Vector3d(-30, -30, -30), Vector3d(30, 30, 30)), 0.5},
          {"fine board", BoardMesh(60, 0, 120, wavy), 0.25},
          {"bricks larger than triangles", BoardMesh(60, 0, 120, wavy), 6.0},
          {"dented ball", DentedBall(4), 1.0}};
}

// Oracle: each point asked on its own.
TEST(MeshIndexTest, ClusterGivesTheDistancesOfItsPoints) {
  for (const ClusterCase& c : ClusterCases()) {
    const MeshIndex index(c.mesh);
    std::mt19937_64 rng(7);
    for (int brick = 0; brick < 60; ++brick) {
      const Vector3d corner = RandomPoint(rng, -35, 65);
      std::vector<Vector3d> points;
      for (int k = 0; k < 512; ++k) {
        points.push_back(corner + c.voxel_mm * Vector3d(k % 8, k / 8 % 8, k / 64));
      }
      const double half = 3.5 * c.voxel_mm;
      std::vector<double> found(points.size());
      index.SignedDistances(corner + Vector3d::Constant(half), half * std::sqrt(3.0) * (1 + 1e-12),
                            points.data(), 512, found.data());
      for (int k = 0; k < 512; ++k) {
        ASSERT_NEAR(found[k], index.SignedDistance(points[k]), kExact_mm)
            << c.name << " brick " << brick << " point " << points[k].transpose();
      }
    }
  }
}

TEST(MeshIndexTest, ClusterOfAnySizeAndShapeWorks) {
  const MeshIndex index(DentedBall(4));
  std::mt19937_64 rng(8);
  for (const int count : {0, 1, 7, 9, 100, 1500}) {
    std::vector<Vector3d> points;
    for (int i = 0; i < count; ++i) points.push_back(RandomPoint(rng, -3, 3) + Vector3d(30, 0, 0));
    if (count > 8) points[8] = points[7];   // twice the same place
    std::vector<double> found(count + 1, 123.0);
    index.SignedDistances({30, 0, 0}, 5.2, points.data(), count, found.data());
    for (int i = 0; i < count; ++i) {
      EXPECT_NEAR(found[i], index.SignedDistance(points[i]), kExact_mm);
    }
    EXPECT_EQ(found[count], 123.0);
  }
}

// Oracle: a convex box is entered once and left once, wherever the line goes
// through: faces, their diagonals, edges, corners.
TEST(MeshIndexTest, LineThroughEdgesAndCornersCrossesOnceEachSide) {
  const MeshIndex box(BoxMesh(Vector3d(-1, -1, -1), Vector3d(1, 1, 1)));
  const std::vector<Vector3d> aims{{0, 0, 1}, {0.5, 0.5, 1}, {1, 0, 1}, {1, 1, 1},
                                   {-1, 1, 1}, {0, 1, 1}, {0.25, -1, 1}};
  std::mt19937_64 rng(9);
  for (const Vector3d& aim : aims) {
    for (int i = 0; i < 50; ++i) {
      // From outside through a point of the top into the box's middle part.
      const Vector3d inner = i == 0 ? Vector3d::Zero() : RandomPoint(rng, -0.9, 0.9);
      const Vector3d direction = (inner - aim).normalized();
      const auto hits = box.Crossings(aim - 5 * direction, direction, -1e3, 1e3);
      ASSERT_EQ(hits.size(), 2u) << aim.transpose() << " to " << inner.transpose();
      EXPECT_TRUE(hits[0].entering);
      EXPECT_FALSE(hits[1].entering);
      EXPECT_NEAR(hits[0].t_mm, 5.0, 1e-9);
    }
  }
}

// Property: over a closed mesh entries and exits alternate, beginning with an
// entry, for lines aimed straight at vertices and edge middles.
TEST(MeshIndexTest, CrossingsAlternateOnLinesThroughVertices) {
  const MeshIndex index(DentedBall(3));
  const auto& mesh = index.mesh();
  std::mt19937_64 rng(10);
  for (std::size_t i = 0; i + 7 < mesh.vertices.size(); ++i) {
    const Vector3d through = mesh.vertices[i];
    const Vector3d direction =
        i % 3 == 0 ? Vector3d(Vector3d::Unit(i % 9 / 3)) : (mesh.vertices[i + 7] - through).normalized();
    const auto hits = index.Crossings(through, direction, -500, 500);
    ASSERT_EQ(hits.size() % 2, 0u) << "vertex " << i;
    for (std::size_t k = 0; k < hits.size(); ++k) {
      EXPECT_EQ(hits[k].entering, k % 2 == 0) << "vertex " << i;
      if (k > 0) {
        EXPECT_LE(hits[k - 1].t_mm, hits[k].t_mm);
      }
    }
  }
}

// Oracle: the sign at the middle between two hits says inside or outside.
TEST(MeshIndexTest, CrossingsAgreeWithInsideAndLieOnTheSurface) {
  const MeshIndex index(DentedBall(3));
  std::mt19937_64 rng(11);
  int crossings = 0;
  for (int i = 0; i < 2000; ++i) {
    const Vector3d origin = RandomPoint(rng, -40, 40), direction = RandomUnit(rng);
    const auto hits = index.Crossings(origin, direction, -500, 500);
    for (std::size_t k = 0; k < hits.size(); ++k) {
      ++crossings;
      EXPECT_NEAR(index.ClosestPoint(origin + hits[k].t_mm * direction).distance_mm, 0.0, 1e-8);
      if (k == 0 || hits[k].t_mm - hits[k - 1].t_mm < 1e-6) continue;
      const double middle = 0.5 * (hits[k].t_mm + hits[k - 1].t_mm);
      EXPECT_EQ(index.SignedDistance(origin + middle * direction) < 0, hits[k - 1].entering);
    }
  }
  EXPECT_GT(crossings, 1000);
}

// A line that runs in a face or along an edge is either in or out: never a
// lone entry. A touch from outside at an edge is no passage.
TEST(MeshIndexTest, GrazingLineGivesPairsOrNothing) {
  const MeshIndex box(BoxMesh(Vector3d(-1, -1, -1), Vector3d(1, 1, 1)));
  for (const Vector3d& origin : {Vector3d(-5, 0.3, 1), Vector3d(-5, 1, 1), Vector3d(-5, -1, 0.2),
                                 Vector3d(-5, 0.3, -1), Vector3d(-5, -1, -1)}) {
    const auto hits = box.Crossings(origin, Vector3d::UnitX(), -100, 100);
    ASSERT_TRUE(hits.empty() || hits.size() == 2) << origin.transpose();
    if (hits.empty()) continue;
    EXPECT_TRUE(hits[0].entering);
    EXPECT_NEAR(hits[0].t_mm, 4, 1e-9);
    EXPECT_NEAR(hits[1].t_mm, 6, 1e-9);
  }
  const Vector3d across = Vector3d(1, -1, 0).normalized();   // touches the edge x = y = 1
  EXPECT_TRUE(box.Crossings(Vector3d(1, 1, 0.3) - 4 * across, across, -50, 50).empty());
}

TEST(MeshIndexTest, CrossingsOutsideTheRangeAreLeftOut) {
  const MeshIndex box(BoxMesh(Vector3d(-1, -1, -1), Vector3d(1, 1, 1)));
  const auto hits = box.Crossings({0.1, 0.2, 0}, Vector3d::UnitZ(), 0, 10);
  ASSERT_EQ(hits.size(), 1u);
  EXPECT_FALSE(hits[0].entering);
  EXPECT_TRUE(box.Crossings({0.1, 0.2, 0}, Vector3d::UnitZ(), -0.9, 0.9).empty());
}

// A triangle without area is a segment or a point; it is measured as such.
TEST(MeshIndexTest, TrianglesWithoutAreaAreMeasuredAsSegments) {
  Mesh mesh;
  mesh.vertices = {{0, 0, 0}, {10, 0, 0}, {4, 0, 0}, {50, 0, 0}};
  mesh.triangles = {{0, 1, 2}, {3, 3, 3}};
  const MeshIndex index(mesh);
  EXPECT_NEAR(index.ClosestPoint({5, 3, 4}).distance_mm, 5, kExact_mm);
  EXPECT_NEAR(index.ClosestPoint({-3, 4, 0}).distance_mm, 5, kExact_mm);
  EXPECT_NEAR(index.ClosestPoint({50, 3, 4}).distance_mm, 5, kExact_mm);
}

TEST(MeshIndexTest, PointThatIsNotFiniteGivesNoDistance) {
  const MeshIndex box(BoxMesh(Vector3d(-1, -1, -1), Vector3d(1, 1, 1)));
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_TRUE(std::isnan(box.SignedDistance({nan, 0, 0})));
  EXPECT_EQ(box.ClosestPoint({nan, 0, 0}).triangle, -1);
}

TEST(MeshIndexTest, UnusableMeshThrowsNamingTheField) {
  const auto make = [](const Mesh& mesh) { return [mesh] { MeshIndex index(mesh); }; };
  const auto says = [](const char* text) {
    return testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr(text));
  };
  Mesh mesh = BoxMesh(Vector3d(-1, -1, -1), Vector3d(1, 1, 1));
  mesh.triangles[3][1] = 8;
  EXPECT_THAT(make(mesh), says("triangles[3] = 8"));
  mesh.triangles.clear();
  EXPECT_THAT(make(mesh), says("triangles = 0"));
  mesh = BoxMesh(Vector3d(-1, -1, -1), Vector3d(1, 1, 1));
  mesh.vertices[2].y() = std::numeric_limits<double>::infinity();
  EXPECT_THAT(make(mesh), says("vertices[2]"));
}

}  // namespace
}  // namespace aircut::sim
