#include "sim/mesh.h"

#include <cmath>

#include <gtest/gtest.h>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Oracle: a box of 2 x 3 x 4 has 24 mm3 and 52 mm2 by elementary geometry.
TEST(MeshTest, BoxIsClosedOutwardAndHasItsVolumeAndArea) {
  const MeshReport report = Inspect(BoxMesh({-1, 0, 5}, {1, 3, 9}));
  EXPECT_TRUE(report.closed);
  EXPECT_EQ(report.open_edges, 0);
  EXPECT_EQ(report.crowded_edges, 0);
  EXPECT_EQ(report.degenerate, 0);
  EXPECT_NEAR(report.volume_mm3, 24.0, 1e-12);
  EXPECT_NEAR(report.area_mm2, 52.0, 1e-12);
  EXPECT_EQ(report.box.min(), Vector3d(-1, 0, 5));
  EXPECT_EQ(report.box.max(), Vector3d(1, 3, 9));
}

// Oracle: turning every face round changes the sign of the volume and nothing else.
TEST(MeshTest, InsideOutBoxHasNegativeVolumeAndStaysClosed) {
  Mesh mesh = BoxMesh({0, 0, 0}, {2, 3, 4});
  for (auto& t : mesh.triangles) std::swap(t[0], t[1]);
  const MeshReport report = Inspect(mesh);
  EXPECT_TRUE(report.closed);
  EXPECT_NEAR(report.volume_mm3, -24.0, 1e-12);
}

// Oracle: a missing triangle leaves its three edges with one triangle each.
TEST(MeshTest, MissingTriangleLeavesThreeOpenEdges) {
  Mesh mesh = BoxMesh({0, 0, 0}, {1, 1, 1});
  mesh.triangles.pop_back();
  const MeshReport report = Inspect(mesh);
  EXPECT_FALSE(report.closed);
  EXPECT_EQ(report.open_edges, 3);
  EXPECT_EQ(report.crowded_edges, 0);
}

// Oracle: one triangle turned round runs along its three edges the same way as
// its neighbours do.
TEST(MeshTest, OneTriangleTurnedRoundCrowdsItsThreeEdges) {
  Mesh mesh = BoxMesh({0, 0, 0}, {1, 1, 1});
  std::swap(mesh.triangles[4][1], mesh.triangles[4][2]);
  const MeshReport report = Inspect(mesh);
  EXPECT_FALSE(report.closed);
  EXPECT_EQ(report.open_edges, 0);
  EXPECT_EQ(report.crowded_edges, 3);
}

// Oracle: the same triangle twice puts three triangles on each of its edges.
TEST(MeshTest, TriangleGivenTwiceCrowdsItsThreeEdges) {
  Mesh mesh = BoxMesh({0, 0, 0}, {1, 1, 1});
  mesh.triangles.push_back(mesh.triangles[0]);
  const MeshReport report = Inspect(mesh);
  EXPECT_FALSE(report.closed);
  EXPECT_EQ(report.crowded_edges, 3);
}

// Oracle: a soup of triangles with corners of their own is the same surface;
// -0 and 0 are the same place.
TEST(MeshTest, TriangleSoupWithMinusZeroCountsAsOneClosedSurface) {
  const Mesh box = BoxMesh({0, 0, 0}, {2, 3, 4});
  Mesh soup;
  for (const auto& t : box.triangles) {
    std::array<std::int32_t, 3> own{};
    for (std::size_t i = 0; i < 3; ++i) {
      own[i] = static_cast<std::int32_t>(soup.vertices.size());
      Vector3d p = box.vertices[static_cast<std::size_t>(t[i])];
      if (soup.vertices.size() % 2 == 1) {
        for (double& value : p) value = value == 0 ? -0.0 : value;
      }
      soup.vertices.push_back(p);
    }
    soup.triangles.push_back(own);
  }
  EXPECT_TRUE(Inspect(soup).closed);
  const Mesh welded = Welded(soup);
  EXPECT_EQ(welded.vertices.size(), 8u);
  EXPECT_EQ(welded.triangles.size(), box.triangles.size());
  EXPECT_NEAR(Inspect(welded).volume_mm3, 24.0, 1e-12);
}

TEST(MeshTest, WeldingAMeshWithoutDoublesChangesNothing) {
  const Mesh box = BoxMesh({0, 0, 0}, {2, 3, 4});
  const Mesh welded = Welded(box);
  EXPECT_EQ(welded.vertices, box.vertices);
  EXPECT_EQ(welded.triangles, box.triangles);
}

// A triangle that has shrunk to an edge has no area; the surface around it is
// as closed as before.
TEST(MeshTest, DegenerateTriangleIsCountedAndDoesNotOpenTheSurface) {
  Mesh mesh = BoxMesh({0, 0, 0}, {1, 1, 1});
  mesh.triangles.push_back({0, 0, 1});
  const MeshReport report = Inspect(mesh);
  EXPECT_EQ(report.degenerate, 1);
  EXPECT_TRUE(report.closed);
}

TEST(MeshTest, EmptyMeshIsNotClosed) {
  const MeshReport report = Inspect(Mesh{});
  EXPECT_FALSE(report.closed);
  EXPECT_EQ(report.volume_mm3, 0.0);
  EXPECT_EQ(report.area_mm2, 0.0);
}

// Oracle: a rigid move keeps volume, area and closedness; far from the origin
// the volume keeps ten digits.
TEST(MeshTest, RigidMoveKeepsVolumeAndArea) {
  Eigen::Isometry3d X = Eigen::Isometry3d::Identity();
  X.rotate(Eigen::AngleAxisd(0.7, Vector3d(1, 2, 3).normalized()));
  X.pretranslate(Vector3d(5000, -3000, 200));
  const MeshReport report = Inspect(Transformed(BoxMesh({0, 0, 0}, {2, 3, 4}), X));
  EXPECT_TRUE(report.closed);
  EXPECT_NEAR(report.volume_mm3, 24.0, 24.0 * 1e-10);
  EXPECT_NEAR(report.area_mm2, 52.0, 52.0 * 1e-10);
}

}  // namespace
}  // namespace aircut::sim
