#include "sim/mesh_mending.h"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "sim/mesh_index.h"
#include "sim/winding_number.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

Mesh Board() {
  return BoardMesh(20.0, 0.0, 10, [](double, double) { return 5.0; });
}

// Oracle: the mesh before it was spoilt.
TEST(MeshMendingTest, DuplicatesFlipsAndFacesWithoutAreaAreCountedAndTheBodyComesBack) {
  const Mesh whole = Board();
  Mesh spoilt = whole;
  spoilt.triangles.push_back(spoilt.triangles[7]);
  spoilt.triangles.push_back({spoilt.triangles[9][1], spoilt.triangles[9][2], spoilt.triangles[9][0]});
  spoilt.triangles.push_back({3, 3, 5});
  for (const std::size_t t : {20u, 21u, 150u}) std::swap(spoilt.triangles[t][0], spoilt.triangles[t][1]);
  EXPECT_FALSE(Inspect(spoilt).closed);
  const MendedMesh mended = Tidied(spoilt);
  EXPECT_EQ(mended.defects.duplicate, 2);
  EXPECT_EQ(mended.defects.degenerate, 1);
  EXPECT_EQ(mended.defects.flipped, 3);
  EXPECT_EQ(mended.defects.crowded_edges, 0);
  EXPECT_TRUE(Inspect(mended.mesh).closed);
  EXPECT_NEAR(Inspect(mended.mesh).volume_mm3, Inspect(whole).volume_mm3, 1e-9);
  EXPECT_EQ(mended.origin.size(), mended.mesh.triangles.size());
}

TEST(MeshMendingTest, SoundMeshHasNoDefect) {
  const MendedMesh tidy = Tidied(Board());
  EXPECT_FALSE(tidy.defects.any());
  EXPECT_TRUE(BorderCycles(tidy.mesh).empty());
}

// A flat hole in a flat face: its bridge is the face that was there.
TEST(MeshMendingTest, BridgeOverAFlatHoleGivesAreaAndVolumeBack) {
  const Mesh whole = Board();
  Mesh holed = whole;
  const auto in_hole = [&](const std::array<std::int32_t, 3>& t) {
    Vector3d middle = Vector3d::Zero();
    for (const std::int32_t v : t) middle += whole.vertices[static_cast<std::size_t>(v)] / 3.0;
    // An L of three squares: not convex.
    return middle.z() > 4.9 && middle.x() > 6 && middle.x() < 10 && middle.y() > 6 && middle.y() < 10 &&
           !(middle.x() > 8 && middle.y() > 8);
  };
  holed.triangles.erase(std::remove_if(holed.triangles.begin(), holed.triangles.end(), in_hole), holed.triangles.end());
  ASSERT_EQ(whole.triangles.size() - holed.triangles.size(), 6u);
  MendedMesh mended = Tidied(holed);
  const auto cycles = BorderCycles(mended.mesh);
  ASSERT_EQ(cycles.size(), 1u);
  EXPECT_EQ(cycles[0].size(), 8u);
  EXPECT_NEAR(AreaVector(mended.mesh, cycles[0]).z(), -12.0, 1e-12);   // clockwise seen from outside
  BridgeHoles(cycles, Vector3d::Zero(), mended);
  EXPECT_EQ(mended.defects.holes, 1);
  EXPECT_NEAR(mended.defects.hole_mm2, 12.0, 1e-9);
  EXPECT_TRUE(Inspect(mended.mesh).closed);
  EXPECT_NEAR(Inspect(mended.mesh).volume_mm3, 2000.0, 1e-9);
  EXPECT_EQ(std::count(mended.origin.begin(), mended.origin.end(), FaceOrigin::kBridge), 6);
}

// A fin on an edge: three faces meet there. Its border is closed all the same.
TEST(MeshMendingTest, FinOnAnEdgeIsCountedAndItsBorderIsOneCycle) {
  Mesh mesh = BoxMesh({0, 0, 0}, {10, 10, 10});
  mesh.vertices.emplace_back(-5, -5, 5);
  mesh.triangles.push_back({0, 4, 8});   // edge from (0, 0, 0) to (0, 0, 10)
  MendedMesh mended = Tidied(mesh);
  EXPECT_EQ(mended.defects.crowded_edges, 1);
  const auto cycles = BorderCycles(mended.mesh);
  ASSERT_EQ(cycles.size(), 1u);
  EXPECT_EQ(cycles[0].size(), 3u);
  BridgeHoles(cycles, Vector3d::Zero(), mended);
  EXPECT_NEAR(WindingNumber(mended.mesh, {5, 5, 5}), 1.0, 1e-9);
  EXPECT_NEAR(WindingNumber(mended.mesh, {-2, -2, 5}), 0.0, 1e-9);
}

// Two blocks that overlap by a half: normals see air where both hold material.
// Oracle: the union of two boxes in closed form.
TEST(MeshMendingTest, WindingNumbersDecideWhereBodiesOverlap) {
  Mesh both = BoxMesh({0, 0, 0}, {20, 20, 20});
  const Mesh other = BoxMesh({10, 5, 5}, {30, 15, 15});
  const auto base = static_cast<std::int32_t>(both.vertices.size());
  both.vertices.insert(both.vertices.end(), other.vertices.begin(), other.vertices.end());
  for (const auto& t : other.triangles) both.triangles.push_back({base + t[0], base + t[1], base + t[2]});
  EXPECT_GT(CountEnclosed(both, WindingField(both), 1000), 0);
  EXPECT_EQ(CountEnclosed(Board(), WindingField(Board()), 1000), 0);
  const MeshIndex by_numbers(both, InsideBy::kWindingNumbers), by_normals(both);
  const auto inside = [](const Vector3d& p) {
    const auto in = [&](double x0, double x1, double low, double high) {
      return p.x() > x0 && p.x() < x1 && p.y() > low && p.y() < high && p.z() > low && p.z() < high;
    };
    return in(0, 20, 0, 20) || in(10, 30, 5, 15);
  };
  std::mt19937_64 rng(7);
  int wrong_by_normals = 0;
  std::vector<Vector3d> points;
  for (int i = 0; i < 2000; ++i) {
    const Vector3d p = RandomPoint(rng, -2, 32);
    EXPECT_EQ(by_numbers.SignedDistance(p) < 0.0, inside(p)) << p.transpose();
    wrong_by_normals += (by_normals.SignedDistance(p) < 0.0) != inside(p) ? 1 : 0;
    points.push_back(p);
  }
  EXPECT_GT(wrong_by_normals, 0);
  std::vector<double> together(points.size());
  by_numbers.SignedDistances({15, 15, 15}, 30.0, points.data(), static_cast<int>(points.size()), together.data());
  for (std::size_t i = 0; i < points.size(); ++i) EXPECT_EQ(together[i] < 0.0, inside(points[i]));
  // A line through both meets the union once: in at 0, out at 30.
  const auto hits = by_numbers.Crossings({-5, 10.1, 9.7}, Vector3d::UnitX(), 0.0, 100.0);
  ASSERT_EQ(hits.size(), 2u);
  EXPECT_NEAR(hits[0].t_mm, 5.0, 1e-9);
  EXPECT_TRUE(hits[0].entering);
  EXPECT_NEAR(hits[1].t_mm, 35.0, 1e-9);
}

}  // namespace
}  // namespace aircut::sim
