#include "sim/scan_solid.h"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "sim/mesh_index.h"
#include "sim/winding_number.h"
#include "sim/swept_cut.h"
#include "sim/unseen_cut.h"
#include "tests/sim/sample_meshes.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kThick_mm = 8.0;

// An open sheet of 40 x 40 mm in squares of 1 mm, seen from +z, holes left out.
template <typename Height, typename Hole>
Mesh Sheet(const Height& height, const Hole& hole) {
  Mesh sheet;
  for (int j = 0; j <= 40; ++j) {
    for (int i = 0; i <= 40; ++i) sheet.vertices.emplace_back(i, j, height(i, j));
  }
  for (int j = 0; j < 40; ++j) {
    for (int i = 0; i < 40; ++i) {
      if (hole(i, j)) continue;
      const int a = 41 * j + i;
      sheet.triangles.push_back({a, a + 1, a + 42});
      sheet.triangles.push_back({a, a + 42, a + 41});
    }
  }
  return sheet;
}

double Wavy(double x, double y) { return 2.0 * std::sin(0.2 * x) + 0.05 * y; }

Mesh WavySheet() {
  return Sheet(Wavy, [](int, int) { return false; });
}

Mesh FlatSheetWithHole() {
  return Sheet([](int, int) { return 0.0; },
               [](int i, int j) { return i >= 10 && i < 16 && j >= 10 && j < 16; });
}

ScanBack Thick() { return {Vector3d::UnitZ(), kThick_mm}; }

// Oracle: a sheet moved along z by t sweeps its ground area times t.
TEST(ScanSolidTest, ThicknessMakesAClosedBodyOfItsVolume) {
  ScanSurface surface = SurfaceOfScan(WavySheet(), Vector3d::UnitZ());
  EXPECT_NEAR(surface.seen_mm2, 1600.0, 1e-9);
  EXPECT_FALSE(surface.mended.defects.any());
  const MendedMesh solid = SolidOfScan(std::move(surface.mended), Thick());
  const MeshReport report = Inspect(solid.mesh);
  EXPECT_TRUE(report.closed);
  EXPECT_NEAR(report.volume_mm3, 1600.0 * kThick_mm, 1e-6);
  EXPECT_EQ(std::count(solid.origin.begin(), solid.origin.end(), FaceOrigin::kSkirt), 2 * 160);
  EXPECT_EQ(std::count(solid.origin.begin(), solid.origin.end(), FaceOrigin::kBack), 3200);
  EXPECT_EQ(solid.origin.size(), solid.mesh.triangles.size());
}

// Oracle: the volume between the sheet's own triangles and the plane z = -5 + 0.1 x: the
// trapezium sum over the grid, which is what halved squares hold.
TEST(ScanSolidTest, BackingPlaneCutsTheBodyOffThere) {
  const Vector3d normal = Vector3d(-0.1, 0.0, 1.0).normalized();
  const ScanBack back{Vector3d::UnitZ(), ScanBack::Plane{{0, 0, -5}, normal}};
  ScanSurface surface = SurfaceOfScan(WavySheet(), Vector3d::UnitZ());
  const Mesh sheet = surface.mended.mesh;
  double volume = 0.0;
  for (const auto& t : sheet.triangles) {
    for (const std::int32_t v : t) {
      const Vector3d& p = sheet.vertices[static_cast<std::size_t>(v)];
      volume += 0.5 / 3.0 * (p.z() + 5.0 - 0.1 * p.x());
    }
  }
  double least = 1e30;
  for (const Vector3d& p : sheet.vertices) least = std::min(least, p.z() + 5.0 - 0.1 * p.x());
  EXPECT_NEAR(LeastDepth(sheet, back), least, 1e-12);
  const MendedMesh solid = SolidOfScan(std::move(surface.mended), back);
  EXPECT_TRUE(Inspect(solid.mesh).closed);
  EXPECT_NEAR(Inspect(solid.mesh).volume_mm3, volume, 1e-6);
}

// A scan that is turned in space gives the turned body.
TEST(ScanSolidTest, TurnedScanGivesTheTurnedBody) {
  std::mt19937_64 rng(3);
  const Eigen::Isometry3d X = RandomPose(rng, 100.0);
  const Vector3d seen_from = X.linear() * Vector3d::UnitZ();
  ScanSurface surface = SurfaceOfScan(Transformed(FlatSheetWithHole(), X), seen_from);
  EXPECT_EQ(surface.mended.defects.holes, 1);
  EXPECT_NEAR(surface.mended.defects.hole_mm2, 36.0, 1e-9);
  const MendedMesh solid = SolidOfScan(std::move(surface.mended), {seen_from, kThick_mm});
  EXPECT_TRUE(Inspect(solid.mesh).closed);
  EXPECT_NEAR(Inspect(solid.mesh).volume_mm3, 1600.0 * kThick_mm, 1e-6);
}

TEST(ScanSolidTest, LoosePiecesAreLeftOutAndTheirAreaTold) {
  Mesh scan = WavySheet();
  const auto base = static_cast<std::int32_t>(scan.vertices.size());
  for (const Vector3d& p : {Vector3d(50, 0, 0), Vector3d(52, 0, 0), Vector3d(50, 2, 0)}) scan.vertices.push_back(p);
  scan.triangles.push_back({base, base + 1, base + 2});
  const ScanSurface surface = SurfaceOfScan(scan, Vector3d::UnitZ());
  EXPECT_EQ(surface.mended.defects.loose_parts, 1);
  EXPECT_NEAR(surface.largest_left_out_mm2, 2.0, 1e-12);
  EXPECT_EQ(surface.mended.mesh.triangles.size(), 3200u);
  EXPECT_LT(SurfaceOfScan(scan, -Vector3d::UnitZ()).seen_mm2, 0.0);
}

// Two sheets that meet in one vertex: one rim that meets itself.
TEST(ScanSolidTest, RimThatMeetsItselfStillClosesWithWholeWindingNumbers) {
  const Mesh scan = Sheet([](int, int) { return 0.0; }, [](int i, int j) { return (i < 20) != (j < 20); });
  ScanSurface surface = SurfaceOfScan(scan, Vector3d::UnitZ());
  const MendedMesh solid = SolidOfScan(std::move(surface.mended), Thick());
  EXPECT_NEAR(WindingNumber(solid.mesh, {10.3, 9.8, -4}), 1.0, 1e-9);
  EXPECT_NEAR(WindingNumber(solid.mesh, {30.3, 29.8, -4}), 1.0, 1e-9);
  EXPECT_NEAR(WindingNumber(solid.mesh, {30.3, 9.8, -4}), 0.0, 1e-9);
  const MeshIndex index(solid.mesh, InsideBy::kWindingNumbers);
  std::mt19937_64 rng(11);
  for (int i = 0; i < 500; ++i) {
    const Vector3d p = RandomPoint(rng, -10, 45);
    const bool in_square = p.x() > 0 && p.y() > 0 && p.x() < 40 && p.y() < 40 && (p.x() < 20) == (p.y() < 20);
    EXPECT_EQ(index.SignedDistance(p) < 0.0, in_square && p.z() < 0 && p.z() > -kThick_mm) << p.transpose();
  }
}

class UnseenCutTest : public testing::Test {
 protected:
  // Cuts a straight groove with a 4 mm ball from a to b, tips in S.
  UnseenCut Groove(const Vector3d& a, const Vector3d& b) {
    ScanSurface surface = SurfaceOfScan(FlatSheetWithHole(), Vector3d::UnitZ());
    MendedMesh solid = SolidOfScan(std::move(surface.mended), Thick());
    faces_.origin = solid.origin;
    faces_.back = Thick();
    const auto index = std::make_shared<const MeshIndex>(solid.mesh, InsideBy::kWindingNumbers);
    const ToolTrack track = UprightTrack(Cutter::Ball(4.0, 20.0), {a, b});
    CutOptions options;
    options.voxel_mm = 0.25;
    const GridCut cut = CutGrid(index, track, options);
    return FindUnseenCut(faces_, cut.stock, track);
  }
  StockFaces faces_;
};

// Nearly: 1 mm beside the hole of 10 to 16 mm the cutter's edge, 1.94 mm from its axis at
// 1.5 mm of height, keeps a column clear of it.
TEST_F(UnseenCutTest, CutBesideTheHoleIsKnown) {
  const UnseenCut cut = Groove({20.0, 6.0, -1.5}, {20.0, 30.0, -1.5});
  for (const Seen seen : {Seen::kUnderHole, Seen::kBeside, Seen::kBehind}) EXPECT_EQ(cut.Of(seen).travel_mm, 0.0);
}

// Oracle: a groove of depth h by a ball of radius r has the section
// r^2 acos(1 - h / r) - (r - h) sqrt(2 r h - h^2); 6 mm of it lie under the hole.
TEST_F(UnseenCutTest, CutAcrossTheHoleIsCountedWithLineTimeAndPlace) {
  const UnseenShare share = Groove({4.0, 13.0, -1.0}, {24.0, 13.0, -1.0}).Of(Seen::kUnderHole);
  const double r = 2.0, h = 1.0;
  const double section = r * r * std::acos(1.0 - h / r) - (r - h) * std::sqrt(2.0 * r * h - h * h);
  // One column of half a millimetre at both ends, and the voxels' own error.
  EXPECT_NEAR(share.removed_mm3, 6.0 * section, 1.0 * section + 0.05 * 6.0 * section);
  EXPECT_EQ(share.first_line, 2);
  EXPECT_NEAR(share.deepest_mm, 1.0, 1e-6);
  // The ball reaches in from sqrt(3) mm before the hole to as much behind it, in steps of 1 mm.
  EXPECT_NEAR(share.travel_mm, 6.0 + 2.0 * std::sqrt(3.0), 2.1);
  EXPECT_NEAR(share.at_S.y(), 13.0, 2.0);
  EXPECT_GE(share.at_S.x(), 9.5);
  EXPECT_LE(share.at_S.x(), 16.5);
}

TEST_F(UnseenCutTest, CutOverTheRimIsBesideUnlessThePieceIsKnownToEndThere) {
  const Vector3d from(30.0, 30.0, -1.0), to(50.0, 30.0, -1.0);
  const UnseenShare beside = Groove(from, to).Of(Seen::kBeside);
  EXPECT_NEAR(beside.travel_mm, 10.0 + std::sqrt(3.0), 1.1);
  EXPECT_NEAR(beside.deepest_mm, 1.0, 1e-6);
  EXPECT_LE(beside.removed_mm3, 0.5 * 2.5);   // a column of half a spacing may lie across the rim
  faces_.ends_at_rim = true;
  EXPECT_EQ(Groove(from, to).Of(Seen::kBeside).travel_mm, 0.0);
  faces_.ends_at_rim = false;
  // Above the rim there is nothing to meet.
  EXPECT_EQ(Groove({30.0, 30.0, 0.1}, {50.0, 30.0, 0.1}).Of(Seen::kBeside).travel_mm, 0.0);
}

TEST_F(UnseenCutTest, CutThroughTheBackIsBehind) {
  EXPECT_EQ(Groove({25.0, 30.0, -7.9}, {30.0, 30.0, -7.9}).Of(Seen::kBehind).travel_mm, 0.0);
  const UnseenShare behind = Groove({25.0, 30.0, -8.3}, {30.0, 30.0, -8.3}).Of(Seen::kBehind);
  EXPECT_NEAR(behind.travel_mm, 5.0, 1e-9);
  EXPECT_NEAR(behind.deepest_mm, 0.3, 1e-6);
}

}  // namespace
}  // namespace aircut::sim
