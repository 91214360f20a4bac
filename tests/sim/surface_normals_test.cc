#include "sim/surface_normals.h"

#include <cmath>

#include <gtest/gtest.h>

#include "sim/triangle_samples.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Oracle: a roof of two faces at +-10 degrees. Far from the ridge the normal is
// the face's, on the ridge it is upright, and between it turns without a jump.
TEST(SurfaceNormalsTest, RidgeIsRoundedOverTheDisc) {
  const double slope = std::tan(10.0 * 3.14159265358979323846 / 180.0);
  Mesh roof;
  roof.vertices = {{-20, -20, -20 * slope}, {20, -20, -20 * slope}, {-20, 0, 0}, {20, 0, 0},
                   {-20, 20, -20 * slope}, {20, 20, -20 * slope}};
  roof.triangles = {{0, 1, 3}, {0, 3, 2}, {2, 3, 5}, {2, 5, 4}};
  const MeshIndex index(roof);
  const SurfaceNormals normals(index, 4.0, index.box(), 2);
  EXPECT_NEAR(normals.At({0, 10, 1}).normal_S.y(), std::sin(std::atan(slope)), 1e-9);
  EXPECT_NEAR(normals.At({0, 0.0, 1}).normal_S.y(), 0.0, 0.02);
  double last = normals.At({0.3, -6, 0}).normal_S.y();
  for (double y = -6.0; y <= 6.0; y += 0.1) {
    const double now = normals.At({0.3, y, 0}).normal_S.y();
    EXPECT_LT(std::abs(now - last), 0.04) << y;   // the faces differ by 0.35
    last = now;
  }
}

// A plate thinner than the disc: the far side must not pull the normal over.
TEST(SurfaceNormalsTest, FarSideOfAThinPlateDoesNotCount) {
  const auto plate = Block(40, 40, 1.0);
  const SurfaceNormals normals(*plate, 5.0, plate->box(), 1);
  EXPECT_NEAR(normals.At({3, 2, 0.5}).normal_S.z(), 1.0, 1e-9);
}

// Conserved: the samples' areas add up to the surface's.
TEST(SampleSurfaceTest, AreasAddUp) {
  const Mesh box = BoxMesh({0, 0, 0}, {3, 4, 5});
  double area = 0.0;
  for (const SurfaceSample& s : SampleSurface(box, {0.3, [](const Vector3d&) { return true; }, 2})) {
    area += s.area_mm2;
  }
  EXPECT_NEAR(area, 2.0 * (12 + 15 + 20), 1e-9);
}

TEST(SampleSurfaceTest, TriangleWithoutAreaGivesNoSample) {
  Mesh sliver;
  sliver.vertices = {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}};
  sliver.triangles = {{0, 1, 2}};
  EXPECT_TRUE(SampleSurface(sliver, {0.1, [](const Vector3d&) { return true; }, 1}).empty());
}

}  // namespace
}  // namespace aircut::sim
