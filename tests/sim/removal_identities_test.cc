// Published identities of Boolean operations, made by cutting: volume, area and curvature of what is
// left or taken away.

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "sim/stock_surface.h"
#include "sim/swept_cut.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// The unit of the identities [mm].
constexpr double kUnit_mm = 20.0;

std::shared_ptr<const MeshIndex> Cube(const Vector3d& low, const Vector3d& high) {
  return std::make_shared<const MeshIndex>(BoxMesh(kUnit_mm * low, kUnit_mm * high));
}

CutOptions Fine(double voxel_mm) {
  CutOptions options;
  options.voxel_mm = voxel_mm;
  return options;
}

double Cubic(double share) { return share * kUnit_mm * kUnit_mm * kUnit_mm; }

// A flat cutter that comes down, goes straight on at one depth and leaves upwards, beside
// what went before.
void AddSlot(const Vector3d& from, const Vector3d& to, ToolTrack& track) {
  for (const Vector3d& tip : {Vector3d(from.x(), from.y(), 2.0), from, to, Vector3d(to.x(), to.y(), 2.0)}) {
    track.p_ST.push_back(kUnit_mm * tip);
    track.axis_S.push_back(Vector3d::UnitZ());
    track.time_s.push_back(static_cast<double>(track.time_s.size()));
  }
}

ToolTrack Slots(double diameter, const std::vector<std::pair<Vector3d, Vector3d>>& slots) {
  ToolTrack track;
  track.tools.push_back({1, Cutter::Of(FlatOutline({kUnit_mm * diameter, 5.0 * kUnit_mm})), {}});
  for (const auto& [from, to] : slots) AddSlot(from, to, track);
  track.sweeps.resize(track.p_ST.size() - 1);
  return track;
}

// MAT-25: a unit cube less its corner of 0.5 x 1 x 0.5 keeps 0.75 of its volume and 5.5 of
// area. One straight way along the edge takes exactly that corner.
TEST(RemovalIdentitiesTest, CubeWithoutAnEdge) {
  const auto cube = Cube({0, 0, 0}, {1, 1, 1});
  const GridCut cut = CutGrid(cube, Slots(1.0, {{{1, -1, 0.5}, {1, 2, 0.5}}}), Fine(0.2));
  EXPECT_NEAR(cut.removed_mm3, Cubic(0.25), 1e-3 * Cubic(0.25));
  const MeshReport left = Inspect(CarvedSurface(cut.stock, 2));
  EXPECT_NEAR(left.volume_mm3, Cubic(0.75), 1e-3 * Cubic(0.75));
  EXPECT_NEAR(left.area_mm2, 5.5 * kUnit_mm * kUnit_mm, 0.01 * 5.5 * kUnit_mm * kUnit_mm);
}

// MAT-24: a unit cube less itself shifted by (0.3, 0.3, 0) and by (-0.3, -0.3, 0) leaves two
// square pillars: volume 0.18, area 2.76. Four ways of a cutter of 0.4 clear the same:
// two that cross, two that open the corners between them.
TEST(RemovalIdentitiesTest, CubeLessItselfShiftedBothWays) {
  const auto cube = Cube({0, 0, 0}, {1, 1, 1});
  const ToolTrack track = Slots(0.4, {{{0.5, -1, 0}, {0.5, 2, 0}}, {{-1, 0.5, 0}, {2, 0.5, 0}},
                                      {{0.1, -1, 0}, {0.1, 0.5, 0}}, {{0.9, 2, 0}, {0.9, 0.5, 0}}});
  const GridCut cut = CutGrid(cube, track, Fine(0.1));
  EXPECT_NEAR(cut.removed_mm3, Cubic(1 - 0.18), 1e-3 * Cubic(0.82));
  const MeshReport left = Inspect(CarvedSurface(cut.stock, 2));
  EXPECT_NEAR(left.volume_mm3, Cubic(0.18), 3e-3 * Cubic(0.18));
  EXPECT_NEAR(left.area_mm2, 2.76 * kUnit_mm * kUnit_mm, 0.01 * 2.76 * kUnit_mm * kUnit_mm);
}

// MAT-25: the octahedron of radius 1 and the unit cube about its middle share 5/6. A flat
// cutter comes down on each corner of the cube along its diagonal, as deep as the face of
// the octahedron.
TEST(RemovalIdentitiesTest, OctahedronInACube) {
  ToolTrack track;
  track.tools.push_back({1, Cutter::Of(FlatOutline({2.0 * kUnit_mm, 2.0 * kUnit_mm})), {}});
  for (int corner = 0; corner < 8; ++corner) {
    const Vector3d out = Vector3d(corner & 1 ? 1 : -1, corner & 2 ? 1 : -1, corner & 4 ? 1 : -1).normalized();
    for (const double away : {2.0, 1.0 / std::sqrt(3.0)}) {
      track.p_ST.push_back(kUnit_mm * away * out);
      track.axis_S.push_back(out);
      track.time_s.push_back(static_cast<double>(track.time_s.size()));
    }
  }
  track.sweeps.resize(track.p_ST.size() - 1);
  for (std::size_t i = 1; i < track.sweeps.size(); i += 2) track.sweeps[i].swap = true;   // from corner to corner
  const GridCut cut = CutGrid(Cube({-0.5, -0.5, -0.5}, {0.5, 0.5, 0.5}), track, Fine(0.1));
  EXPECT_NEAR(cut.removed_mm3, Cubic(1.0 / 6.0), 1e-3 * Cubic(1.0 / 6.0));
  EXPECT_NEAR(Inspect(CarvedSurface(cut.stock, 2)).volume_mm3, Cubic(0.833), 1e-3 * Cubic(0.833));
}

// MAT-26: a cube of side 4, 3 high, with a unit cube missing inside: volume 47, area 86. The
// hollow is no material, and a slot that stays above it does not know of it.
TEST(RemovalIdentitiesTest, CavityInTheStock) {
  Mesh mesh = BoxMesh({0, 0, 0}, Vector3d(4, 4, 3));
  Mesh hollow = BoxMesh({1.5, 1.5, 1}, {2.5, 2.5, 2});
  const auto first = static_cast<std::int32_t>(mesh.vertices.size());
  for (const auto& t : hollow.triangles) mesh.triangles.push_back({t[0] + first, t[2] + first, t[1] + first});
  mesh.vertices.insert(mesh.vertices.end(), hollow.vertices.begin(), hollow.vertices.end());
  const MeshReport report = Inspect(mesh);
  EXPECT_NEAR(report.volume_mm3, 47.0, 1e-6);
  EXPECT_NEAR(report.area_mm2, 86.0, 1e-6);
  const auto solid = std::make_shared<const MeshIndex>(mesh);
  EXPECT_NEAR(solid->SignedDistance({2, 2, 1.5}), 0.5, 1e-12);
  EXPECT_NEAR(solid->SignedDistance({2, 2, 2.5}), -0.5, 1e-12);
  // A slot of 1 x 1 across the middle, down to half the hollow: it takes 4 x 1 x 1.5 less
  // half of the hollow.
  ToolTrack track = UprightTrack(Cutter::Of(FlatOutline({1.0, 8.0})), {{-1, 2, 1.5}, {5, 2, 1.5}});
  EXPECT_NEAR(CutGrid(solid, track, Fine(0.05)).removed_mm3, 4.0 * 1.5 - 0.5, 1e-3 * 5.5);
}

// MAT-15 (OpenVDB TestTools: a sphere of r 0.15 with voxels of 1/255 within 0.1 % in area,
// volume and mean curvature): the pocket that a ball leaves, half a sphere as many voxels
// wide.
class BallPocketTest : public testing::Test {
 protected:
  static constexpr double kVoxel_mm = 0.1, kRadius_mm = 0.15 * 255 * kVoxel_mm;
  static const GridCut& Pocket() {
    static const GridCut cut = CutGrid(Block(12, 12, 8), UprightTrack(Cutter::Ball(2 * kRadius_mm, 20), {{0.013, 0.021, 6}, {0.013, 0.021, -kRadius_mm}}), Fine(kVoxel_mm));
    return cut;
  }
  static Vector3d Middle() { return {0.013, 0.021, 0}; }
};

// Of the surface: voxel centres alone know a flat face to half a voxel.
TEST_F(BallPocketTest, VolumeIsHalfASphere) {
  const double half = 2.0 / 3.0 * M_PI * std::pow(kRadius_mm, 3);
  EXPECT_NEAR(12.0 * 12.0 * 8.0 - Inspect(CarvedSurface(Pocket().stock, 2)).volume_mm3, half, 1e-3 * half);
}

// Share of a triangle below a height, by the heights of its corners.
double ShareBelow(double height, std::array<double, 3> z) {
  std::sort(z.begin(), z.end());
  if (height <= z[0]) return 0.0;
  if (height >= z[2]) return 1.0;
  if (height <= z[1]) return (height - z[0]) * (height - z[0]) / ((z[1] - z[0]) * (z[2] - z[0]));
  return 1.0 - (z[2] - height) * (z[2] - height) / ((z[2] - z[0]) * (z[2] - z[1]));
}

// A cap that ends two voxels below the face has 2 pi r times its height.
TEST_F(BallPocketTest, AreaIsThatOfTheCap) {
  const Mesh mesh = CarvedSurface(Pocket().stock, 2);
  double area = 0.0;
  for (const auto& t : mesh.triangles) {
    const Vector3d a = mesh.vertices[static_cast<std::size_t>(t[0])], b = mesh.vertices[static_cast<std::size_t>(t[1])],
                   c = mesh.vertices[static_cast<std::size_t>(t[2])];
    if (((a + b + c) / 3.0 - Middle()).norm() > 1.1 * kRadius_mm) continue;
    area += 0.5 * (b - a).cross(c - a).norm() * ShareBelow(-2 * kVoxel_mm, {a.z(), b.z(), c.z()});
  }
  const double cap = 2 * M_PI * kRadius_mm * (kRadius_mm - 2 * kVoxel_mm);
  EXPECT_NEAR(area, cap, 1e-3 * cap);
}

// Half the divergence of the slope is the mean curvature; of a distance in air it is -1 / r
// at the wall of a pocket.
TEST_F(BallPocketTest, MeanCurvatureIsThatOfTheBall) {
  const Stock& stock = Pocket().stock;
  const Eigen::Vector3i count = kBrickEdge * stock.lattice.bricks;
  double sum = 0.0;
  int places = 0;
  for (int k = 1; k + 1 < count.z(); ++k) {
    for (int j = 1; j + 1 < count.y(); ++j) {
      for (int i = 1; i + 1 < count.x(); ++i) {
        const Vector3d p = stock.lattice.Centre(i, j, k) - Middle();
        if (std::abs(p.norm() - kRadius_mm) > 0.5 * kVoxel_mm || p.z() > -5 * kVoxel_mm) continue;
        const double around = stock.ValueAt(i - 1, j, k) + stock.ValueAt(i + 1, j, k) + stock.ValueAt(i, j - 1, k) +
                              stock.ValueAt(i, j + 1, k) + stock.ValueAt(i, j, k - 1) + stock.ValueAt(i, j, k + 1);
        sum += 0.5 * (around - 6 * stock.ValueAt(i, j, k)) / (kVoxel_mm * kVoxel_mm) * p.norm();
        ++places;
      }
    }
  }
  ASSERT_GT(places, 3000);
  EXPECT_NEAR(sum / places, -1.0, 2e-3);   // differences over two voxels, each good to h^2 / 4 r^2
}

}  // namespace
}  // namespace aircut::sim
