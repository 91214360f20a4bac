// One-sided Hausdorff distances as the largest of our nearest distances: what a scan's
// differences, and depths beside the design, rest on.

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "sim/mesh_index.h"
#include "tests/sim/sample_meshes.h"
#include "tests/support/farthest_place.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

Mesh Moved(Mesh mesh, const Vector3d& by) {
  for (Vector3d& v : mesh.vertices) v += by;
  return mesh;
}

// GEO-17: a unit cube and itself shifted by t; the farthest places are corners, met exactly.
TEST(HausdorffTest, ShiftedCubesAreAsFarApartAsTheyWereShifted) {
  const Mesh cube = BoxMesh({0, 0, 0}, {1, 1, 1});
  for (const double t : {0.1, 0.37, 0.9}) {
    const Mesh shifted = Moved(cube, {t, 0, 0});
    EXPECT_NEAR(FarthestPlace_mm(shifted, MeshIndex(cube), 0.05), t, 1e-9) << t;
    EXPECT_NEAR(FarthestPlace_mm(cube, MeshIndex(shifted), 0.05), t, 1e-9) << t;
  }
}

// GEO-17: concentric spheres of radii r and R are R - r apart; facets of the inner one lie
// deeper by their sag, vertices do not.
TEST(HausdorffTest, ConcentricSpheresAreAsFarApartAsTheirRadii) {
  const Mesh inner = IcosphereMesh(8.0, 4), outer = IcosphereMesh(10.0, 4);
  double nearest = 1e30, farthest = 0.0;
  const MeshIndex index(outer);
  for (const Vector3d& v : inner.vertices) {
    const double d = index.ClosestPoint(v).distance_mm;
    nearest = std::min(nearest, d), farthest = std::max(farthest, d);
  }
  EXPECT_LE(farthest, 2.0 + 1e-9);
  const double sag = 10.0 * (1.0 - std::cos(0.06));   // of facets whose corners lie at most 0.06 rad from their middle
  EXPECT_GE(nearest, 2.0 - sag);
}

// GEO-17: a square of side 2 and the circle in it: sqrt 2 - 1 from the square's corners to the
// circle; the other way the circle's places half way between lie 1 - sqrt(1/2) from the square.
TEST(HausdorffTest, SquareAndItsCircleAreApartByADifferentWayEachWay) {
  Mesh square, circle;
  const auto wall = [](Mesh& mesh, double x0, double y0, double x1, double y1) {
    const auto k = static_cast<std::int32_t>(mesh.vertices.size());
    mesh.vertices.insert(mesh.vertices.end(), {{x0, y0, 0}, {x1, y1, 0}, {x1, y1, 1}, {x0, y0, 1}});
    mesh.triangles.insert(mesh.triangles.end(), {{k, k + 1, k + 2}, {k, k + 2, k + 3}});
  };
  const double corner[5][2] = {{1, 1}, {-1, 1}, {-1, -1}, {1, -1}, {1, 1}};
  for (int n = 0; n < 4; ++n) wall(square, corner[n][0], corner[n][1], corner[n + 1][0], corner[n + 1][1]);
  constexpr int kSides = 4096;   // sag 2.9e-7
  const auto at = [](int n) { return 2.0 * 3.14159265358979323846 * n / kSides; };
  for (int n = 0; n < kSides; ++n) wall(circle, std::cos(at(n)), std::sin(at(n)), std::cos(at(n + 1)), std::sin(at(n + 1)));
  EXPECT_NEAR(FarthestPlace_mm(square, MeshIndex(circle), 0.1), std::sqrt(2.0) - 1.0, 1e-6);
  EXPECT_NEAR(FarthestPlace_mm(circle, MeshIndex(square), 0.1), 1.0 - std::sqrt(0.5), 1e-6);
}

}  // namespace
}  // namespace aircut::sim
