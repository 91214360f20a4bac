// Volumes and faces of cutters of every shape against closed forms.
#include <cmath>

#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "sim/swept_cut.h"
#include "tests/support/outline_reference.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;

GridCut Cut(const std::shared_ptr<const MeshIndex>& block, const ToolTrack& track, double voxel_mm) {
  CutOptions options;
  options.voxel_mm = voxel_mm;
  return CutGrid(block, track, options);
}

// A surface of area A crossed by the lattice at random phases errs by about a tenth
// of a voxel layer.
double VolumeBound(double area_mm2, double voxel_mm) { return 0.1 * area_mm2 * voxel_mm; }

// Level faces are not crossed at random: the block's top lies half-way between two
// layers of voxel centres (they begin 0.618 voxel under its floor), and so does
// every floor that is a whole number of voxels deep.
std::shared_ptr<const MeshIndex> BlockBetweenLayers(double x_mm, double y_mm, int layers, double voxel_mm) {
  return Block(x_mm, y_mm, (layers - 0.118) * voxel_mm);
}

Cutter Flat(double diameter_mm) { return Cutter::Of(FlatOutline({diameter_mm, 20})); }

// MAT-05: flat-end slot (stadium) and round pocket: (pi r^2 + 2 r L) d.
TEST(SweptCutShapesTest, FlatSlotAndPocketRemoveTheVolumesOfMat05) {
  const double h = 0.2;
  const GridCut slot = Cut(BlockBetweenLayers(80, 30, 60, h), UprightTrack(Flat(10), {{-20, 0.07, -3}, {20, 0.07, -3}}), h);
  EXPECT_NEAR(slot.removed_mm3, 1435.619449, VolumeBound(2 * 40 * 3 + kPi * 10 * 3, h));
  // The pocket: a round of radius 15 by a cutter of radius 5, in chords, then its middle.
  std::vector<Vector3d> tips;
  for (const double r : {15.0, 8.0}) {
    for (int n = 0; n <= 360; ++n) tips.push_back({r * std::cos(n * kPi / 180), r * std::sin(n * kPi / 180), -5});
  }
  tips.push_back({-2, 0, -5});
  const GridCut pocket = Cut(BlockBetweenLayers(60, 60, 60, h), UprightTrack(Flat(10), tips), h);
  EXPECT_NEAR(pocket.removed_mm3, 6283.185307, VolumeBound(2 * kPi * 20 * 5, h) + 15.0 * 1.5e-4 * 2 * kPi * 15);
}

// MAT-06: bull-nose plunges, R 5, corner 1.
TEST(SweptCutShapesTest, BullNosePlungesRemoveTheVolumesOfMat06) {
  const Cutter bull = Cutter::Of(BullNoseOutline({10, 20}, 1.0));
  const double depth[3] = {0.5, 1.0, 3.0}, expected[3] = {33.505314, 72.099086, 229.178719};
  for (int n = 0; n < 3; ++n) {
    const double h = 0.1;
    const GridCut cut = Cut(BlockBetweenLayers(16, 16, 60, h), UprightTrack(bull, {{0.03, 0.07, 2}, {0.03, 0.07, -depth[n]}}), h);
    EXPECT_NEAR(cut.removed_mm3, expected[n], VolumeBound(2 * kPi * 5 * (depth[n] + 1), h)) << depth[n];
  }
}

// MAT-07: bull-nose slot at d = rc: A = 2 (R - rc) rc + pi rc^2 / 2.
TEST(SweptCutShapesTest, BullNoseSlotRemovesTheVolumeOfMat07) {
  const double h = 0.1;
  const Cutter bull = Cutter::Of(BullNoseOutline({10, 20}, 1.0));
  const GridCut cut = Cut(BlockBetweenLayers(60, 16, 60, h), UprightTrack(bull, {{-20, 0.03, -1}, {20, 0.03, -1}}), h);
  EXPECT_NEAR(cut.removed_mm3, 454.930939, VolumeBound(2 * 40 * kPi / 2 + 2 * kPi * 5, h));
}

// MAT-08: ball ring groove of radius 20 and its quarter arc, as chords of at most
// 0.001 mm sag, which is how arcs of programs arrive.
TEST(SweptCutShapesTest, BallRingAndQuarterArcRemoveTheVolumesOfMat08) {
  const double h = 0.2, step = 2 * std::acos(1 - 0.001 / 20);
  for (const bool ring : {true, false}) {
    const double end = ring ? 2 * kPi : kPi / 2;
    std::vector<Vector3d> tips;
    const int chords = static_cast<int>(std::ceil(end / step));
    for (int n = 0; n <= chords; ++n) tips.push_back({20 * std::cos(end * n / chords), 20 * std::sin(end * n / chords), -1.0});
    const GridCut cut = Cut(Block(60, 60, 6), UprightTrack(Cutter::Ball(6, 20), tips), h);
    EXPECT_NEAR(cut.removed_mm3, ring ? 389.241078 : 105.687850, VolumeBound(end * 20 * 2 * 4.6, h)) << ring;
  }
}

// MAT-09: crossing flat slots of square ends run off the block: 2 w L d - w^2 d,
// what both cut is counted once.
TEST(SweptCutShapesTest, CrossingFlatSlotsAreCountedOnce) {
  const double h = 0.2;
  const ToolTrack track = UprightTrack(Flat(10), {{-40, 0, -3}, {40, 0, -3}, {40, 0, 20}, {0, -40, 20}, {0, -40, -3}, {0, 40, -3}});
  const GridCut cut = Cut(BlockBetweenLayers(60, 60, 40, h), track, h);
  EXPECT_NEAR(cut.removed_mm3, 3300.0, VolumeBound(4 * 60 * 3, h));
  EXPECT_NEAR(cut.contact.VolumeOf(cut.contact.sweeps[4]), 1500.0, VolumeBound(2 * 60 * 3, h));
}

// MAT-10: crossing half-round grooves, d = r = 3, 60 long: Steinmetz.
TEST(SweptCutShapesTest, CrossingHalfRoundGroovesAreTheSteinmetzSolidOfMat10) {
  const double h = 0.2;
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-40, 0.03, -3}, {40, 0.03, -3}, {40, 0.03, 20}, {0.05, -40, 20}, {0.05, -40, -3}, {0.05, 40, -3}});
  EXPECT_NEAR(Cut(Block(60, 60, 8), track, h).removed_mm3, 1624.460033, VolumeBound(2 * 60 * kPi * 3, h));
}

// MAT-11: two overlapping spheres: 2 spheres less the lens.
TEST(SweptCutShapesTest, OverlappingSpheresShareTheLensOfMat11) {
  const Cutter sphere = Cutter::Of(ListedOutline({{{3, 3}, Vector2d(0, 3)}, {{0, 6}, Vector2d(0, 3)}}));
  ToolTrack track = UprightTrack(sphere, {{-1, 0, -9}, {-1, 0, -9}, {1, 0, -9}, {1, 0, -9}});
  track.sweeps[1].swap = true;   // taken from one place to the other through the air
  const GridCut cut = Cut(Block(20, 20, 20), track, 0.1);
  EXPECT_NEAR(cut.removed_mm3, 2 * 36 * kPi - 58.643063, VolumeBound(200, 0.1));
  EXPECT_NEAR(cut.contact.VolumeOf(cut.contact.sweeps[2]), 36 * kPi - 58.643063, VolumeBound(100, 0.1));
}

// MAT-12: drill point of 10 mm and 118 degrees.
TEST(SweptCutShapesTest, DrillPointRemovesTheConeOfMat12) {
  const Cutter drill = Cutter::V(118 * kPi / 180, 0, 10, 20);
  const GridCut cut = Cut(Block(16, 16, 8), UprightTrack(drill, {{0.03, 0.02, 5}, {0.03, 0.02, -3.0043031}}), 0.1);
  EXPECT_NEAR(cut.removed_mm3, 78.652471, VolumeBound(170, 0.1));
}

// MAT-14 (OpenVDB TestLevelSetTubes, within 1 % at voxel 0.1): tapered capsule of
// radii 4.3 and 1.2 along the row's line; the tool's axis lies along it.
TEST(SweptCutShapesTest, TaperedCapsuleHasTheVolumeOfMat14) {
  const Vector3d thick(15.8, 13.2, 16.7), thin(4.3, 7.9, -4.8), axis = (thick - thin).normalized();
  const double length = (thick - thin).norm(), sine = 3.1 / length, cosine = std::sqrt(1 - sine * sine);
  const Vector2d low(1.2 * cosine, 1.2 - 1.2 * sine), high(4.3 * cosine, 1.2 + length - 4.3 * sine);
  const Cutter taper = Cutter::Of(ListedOutline({{low, Vector2d(0, 1.2)}, {high, {}}, {{0, 1.2 + length + 4.3}, Vector2d(0, 1.2 + length)}}));
  ToolTrack track = UprightTrack(taper, {thin - 1.2 * axis, thin - 1.2 * axis});
  track.axis_S = {axis, axis};
  const auto block = std::make_shared<const MeshIndex>(BoxMesh({-3, 0, -12}, {24, 22, 24}));
  EXPECT_NEAR(Cut(block, track, 0.1).removed_mm3, 835.8445, 0.01 * 835.8445);
}

// MAT-27: a cube dilated by a ball: the ball's centre runs over all of its faces.
// Here one face: a square of 4 mm swept by rows, a half-round rim on all sides.
// w^2 2r + 4 w pi r^2 / 2 + 4 pi r^3 / 3, from the row's own terms.
TEST(SweptCutShapesTest, SquareDilatedByABallHasTheSteinerVolumeOfMat27) {
  const Cutter sphere = Cutter::Of(ListedOutline({{{2, 2}, Vector2d(0, 2)}, {{0, 4}, Vector2d(0, 2)}}));
  std::vector<Vector3d> tips;
  for (int row = 0; row <= 80; ++row) {
    const double y = -2 + 0.05 * row, x = row % 2 == 0 ? -2 : 2;
    tips.push_back({x, y, -8});
    tips.push_back({-x, y, -8});
  }
  const double w = 4, r = 2;
  EXPECT_NEAR(Cut(Block(16, 16, 12), UprightTrack(sphere, tips), 0.1).removed_mm3, w * w * 2 * r + 2 * kPi * w * r * r + 4 * kPi * r * r * r / 3,
              VolumeBound(2 * w * w + 2 * kPi * w * r + 4 * kPi * r * r, 0.1));
}

// Oracle: dense poses in long double, at every voxel centre near a long sweep of
// every cutter: plunge, slope and a lean that turns. The grid holds the surface
// within its rounding and the stated bounds of the kernels.
TEST(SweptCutShapesTest, EveryCutterLeavesWhatDensePosesLeave) {
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    ToolTrack track = UprightTrack(named.cutter, {{-4, 0.3, -2}, {4, -0.2, -3}});
    track.axis_S[1] = Vector3d(0.004, 0.006, 1).normalized();
    const double h = 0.25;
    const GridCut cut = Cut(Block(24, 16, 8), track, h);
    double worst = 0;
    int looked = 0;
    for (double x = -7.9; x < 8; x += 0.83) {
      for (double y = -4.9; y < 5; y += 0.71) {
        for (double z = -3.9; z < -0.7; z += 0.59) {
          const Lattice& l = cut.stock.lattice;
          const Eigen::Array3d at = ((Vector3d(x, y, z) - l.origin_S) / h).array().round();
          const int i = static_cast<int>(at.x()), j = static_cast<int>(at.y()), k = static_cast<int>(at.z());
          const double dense = static_cast<double>(DensePoseDistance(track, 0, l.Centre(i, j, k), 60));
          if (dense < -0.05) {
            EXPECT_GT(cut.stock.ValueAt(i, j, k), 0.0) << named.name;
          } else if (dense >= 0.0 && dense < 0.5) {
            ++looked;
            worst = std::max(worst, std::abs(cut.stock.ValueAt(i, j, k) + dense));
          }
        }
      }
    }
    EXPECT_GT(looked, 30) << named.name;
    EXPECT_LE(worst, 3.2e-3) << named.name;
  }
}

// No step is too long and none too short: one sweep of 60 mm, sixty of 1 mm, and
// the way back cut the same.
TEST(SweptCutShapesTest, SplitAndReversedPathsCutTheSame) {
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    const auto block = Block(80, 16, 8);
    const Vector3d from(-30, 0.3, -1.5), to(30, -0.2, -2.5);
    std::vector<Vector3d> many;
    for (int n = 0; n <= 60; ++n) many.push_back(from + n / 60.0 * (to - from));
    const std::int64_t whole = Cut(block, UprightTrack(named.cutter, {from, to}), 0.5).removed_voxels;
    EXPECT_EQ(Cut(block, UprightTrack(named.cutter, {to, from}), 0.5).removed_voxels, whole) << named.name;
    const GridCut split = Cut(block, UprightTrack(named.cutter, many), 0.5);
    EXPECT_NEAR(static_cast<double>(split.removed_voxels), static_cast<double>(whole), 2) << named.name;
    // Conserved: what the sweeps took, one by one, is what is gone.
    std::int64_t sum = 0;
    for (const SweepContact& c : split.contact.sweeps) sum += c.removed_units;
    EXPECT_EQ(sum, split.removed_voxels) << named.name;
  }
}

// A quarter turn of path and block about z, and a mirror image, cut the same.
TEST(SweptCutShapesTest, TurnedMirroredAndMovedPathsCutTheSame) {
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    const std::vector<Vector3d> tips = {{-7, 1, 3}, {-7, 1, -2}, {6, -2, -1.5}};
    const auto cut = [&](const Eigen::Matrix3d& by, const Vector3d& move) {
      std::vector<Vector3d> to;
      for (const Vector3d& tip : tips) to.push_back(by * tip + move);
      const auto block = std::make_shared<const MeshIndex>(BoxMesh(Vector3d(-14, -14, -7) + move, Vector3d(14, 14, 0) + move));
      return Cut(block, UprightTrack(named.cutter, to), 0.25).removed_mm3;
    };
    const double as_is = cut(Eigen::Matrix3d::Identity(), Vector3d::Zero());
    const double bound = 0.004 * as_is + 0.1;   // other phases of the lattice
    Eigen::Matrix3d mirror = Eigen::Matrix3d::Identity(), quarter;
    mirror(1, 1) = -1;
    quarter << 0, -1, 0, 1, 0, 0, 0, 0, 1;
    EXPECT_NEAR(cut(Eigen::Matrix3d::Identity(), {31.7, -12.9, 4.1}), as_is, bound) << named.name;
    EXPECT_NEAR(cut(mirror, Vector3d::Zero()), as_is, bound) << named.name;
    EXPECT_NEAR(cut(quarter, Vector3d::Zero()), as_is, bound) << named.name;
  }
}

// An undercut cutter drawn up out of its own slot takes the slot's shoulders along:
// that is not "surely clear". One that widens upwards is.
TEST(SweptCutShapesTest, DrawingUpAnUndercutCutterBites) {
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    if (named.name != "undercut" && named.name != "flat") continue;
    const ToolTrack track = UprightTrack(named.cutter, {{-20, 0, -5}, {0, 0, -5}, {0, 0, 12}});
    const SweepContact up = Cut(Block(30, 20, 8), track, 0.25).contact.sweeps[1];
    EXPECT_EQ(up.removed_units > 0, named.name == "undercut") << named.name;
    EXPECT_EQ(up.bite_bound_mm > 0, named.name == "undercut") << named.name;
  }
}

// Order of convergence on a crease-free face: the mean square error of the floor of
// a ball groove at h, h/2 and h/4 falls by at least 2^1.8 a step.
TEST(SweptCutShapesTest, GridConvergesInSecondOrderWhereSmooth) {
  const ToolTrack track = UprightTrack(Cutter::Ball(12, 20), {{-20, 0.11, -2.03}, {20, 0.31, -2.23}});
  double rms[3];
  for (int level = 0; level < 3; ++level) {
    const double h = 0.8 / (1 << level);
    const GridCut cut = Cut(Block(60, 20, 6), track, h);
    double sum = 0;
    int places = 0;
    for (double x = -10; x < 10; x += 0.137) {
      for (double y = -2; y < 2; y += 0.119) {
        double lo = -2.6, hi = -0.5;
        for (int n = 0; n < 40; ++n) {
          const double mid = 0.5 * (lo + hi);
          (cut.stock.DistanceAt({x, y, mid}) < 0 ? lo : hi) = mid;
        }
        // Swept cylinder about the line of ball centres, in closed form.
        const Vector3d a(-20, 0.11, 3.97), e = Vector3d(40, 0.2, -0.2).normalized();
        double bottom = -3, top = 0;
        for (int n = 0; n < 60; ++n) {
          const double mid = 0.5 * (bottom + top);
          const Vector3d y3 = Vector3d(x, y, mid) - a;
          ((y3 - y3.dot(e) * e).norm() > 6 ? bottom : top) = mid;
        }
        sum += std::pow(lo - bottom, 2);
        ++places;
      }
    }
    rms[level] = std::sqrt(sum / places);
  }
  EXPECT_LE(rms[2], 0.02 * 0.2);
  EXPECT_GE(std::log2(rms[0] / rms[1]), 1.8);
  EXPECT_GE(std::log2(rms[1] / rms[2]), 1.8);
}

}  // namespace
}  // namespace aircut::sim
