// Depth along rays for cutters of every shape.
#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "sim/depth_rays.h"
#include "tests/support/outline_reference.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;
constexpr double kDepthBound_mm = 0.005;

// Oracle: dense poses in long double. 0.005 mm above the reported top some pose
// has been, 0.005 mm below it none.
void ExpectTopsOnDensePoses(const ToolTrack& track, const std::vector<DepthRay>& rays, const std::string& name) {
  const auto depths = CutRays(*Block(40, 40, 12), track, rays, 0.0, 2);
  const auto distance = [&](const Vector3d& p) {
    double least = 1e30;
    for (int i = 0; i < static_cast<int>(track.sweeps.size()); ++i) least = std::min(least, static_cast<double>(DensePoseDistance(track, i, p, 150)));
    return least;
  };
  int touched = 0;
  for (std::size_t n = 0; n < rays.size(); ++n) {
    const bool roof = depths[n].touched && depths[n].top_mm == depths[n].stock_top_mm;   // cut below only
    if (!depths[n].touched) {
      EXPECT_GT(distance(rays[n].p_SQ + 0.5 * depths[n].top_mm * rays[n].up_S), -1e-6) << name;
      continue;
    }
    ++touched;
    const auto at = [&](double tau) { return Vector3d(rays[n].p_SQ + tau * rays[n].up_S); };
    if (!roof) {
      EXPECT_LE(distance(at(depths[n].top_mm + kDepthBound_mm)), 1e-6) << name << " " << rays[n].p_SQ.transpose();
    }
    EXPECT_GE(distance(at(depths[n].top_mm - kDepthBound_mm)), -1e-6) << name << " " << rays[n].p_SQ.transpose();
  }
  EXPECT_GT(touched, 10) << name;
}

TEST(DepthRaysShapesTest, EveryCutterIsWithinFiveMicrometresOfDensePoses) {
  std::mt19937_64 rng(41);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    if (named.name == "sphere on a neck" || named.name == "undercut") continue;   // below: they leave roofs
    ToolTrack track = UprightTrack(named.cutter, {{-6, 0.4, -2}, {-1, 0, -3}, {0.5, 0.1, -3}, {0.5, 0.1, -4}});
    for (std::size_t m = 0; m < 4; ++m) {
      track.axis_S[m] = Eigen::AngleAxisd(0.0085 * static_cast<double>(m), Vector3d(1, 1, 0).normalized()) * Vector3d::UnitZ();
    }
    std::vector<DepthRay> rays;
    for (int n = 0; n < 40; ++n) {
      rays.push_back({{-3 + 4.5 * c(rng), 1.8 * c(rng), -3.0}, Vector3d(0.15 * c(rng), 0.15 * c(rng), 1).normalized()});
    }
    ExpectTopsOnDensePoses(track, rays, named.name);
  }
}

// Closed forms of floors: level under a flat, a quarter circle beside a bull nose's
// flat, a straight flank beside a V's flat tip; a 100 mm slot in one sweep.
TEST(DepthRaysShapesTest, FloorsOfSlotsAreThoseOfTheOutline) {
  const auto block = Block(120, 30, 12);
  const auto floor_at = [&](const Cutter& cutter, double y) {
    const ToolTrack track = UprightTrack(cutter, {{-50, 0, -3}, {50, 0, -3}});
    return CutRays(*block, track, {{{7.3, y, -3}, Vector3d::UnitZ()}}, 0.0, 1)[0].top_mm;
  };
  const Cutter flat = Cutter::Of(FlatOutline({10, 20})), bull = Cutter::Of(BullNoseOutline({10, 20}, 2));
  const Cutter v = Cutter::Of(FlatTipConeOutline({12, 20}, kPi / 3, 1.0));
  for (const double y : {0.0, 2.0, 4.99, -4.99}) EXPECT_NEAR(floor_at(flat, y), 0.0, 1e-6) << y;
  EXPECT_NEAR(floor_at(flat, 5.01), 3.0, 1e-6);
  for (const double y : {2.9, 3.5, 4.2, 4.9}) {
    EXPECT_NEAR(floor_at(bull, y), y < 3 ? 0.0 : 2 - std::sqrt(4 - (y - 3) * (y - 3)), 1e-6) << y;
  }
  for (const double y : {0.3, 0.7, 1.5, 2.0}) EXPECT_NEAR(floor_at(v, y), y < 0.5 ? 0.0 : (y - 0.5) * std::sqrt(3.0), 1e-6) << y;
}

// A cone that touches a tip ball of 3 mm at half the ball's height, and a face not above
// the ball's centre: the floor is the ball's circle up to where the cone, of 30 degrees
// half angle, touches it, and the cone's straight flank beyond.
TEST(DepthRaysShapesTest, ShallowCutOfARoundedConeFollowsItsFlank) {
  const ToolTrack track = UprightTrack(Cutter::V(kPi / 3, 3.0, 20.0, 30.0), {{-20, 0, -2.8}, {20, 0, -2.8}});
  for (const double y : {0.5, 2.0, 2.55, 2.65, 2.8, 3.05}) {
    const double touches = 3 * std::cos(kPi / 6);
    const double floor = y < touches ? 3 - std::sqrt(9 - y * y) : 1.5 + (y - touches) * std::sqrt(3.0);
    const RayDepth d = CutRays(*Block(60, 30, 10), track, {{{0.7, y, -2.8}, Vector3d::UnitZ()}}, 0.0, 1)[0];
    EXPECT_NEAR(d.top_mm, floor, kRayBound_mm) << y;
  }
}

// An undercut slot: the roof over its wings stands. Along a ray downwards, where the
// wing runs out of the block's underside, the roof ends on the wing's upper slope.
TEST(DepthRaysShapesTest, UndercutSlotLeavesItsRoof) {
  // The neck, 3 mm wide, runs up to the face; the wings are 8 mm wide 1.5 mm above the tip.
  const Cutter undercut = OneCutterOfEachKind()[10].cutter;
  const ToolTrack track = UprightTrack(undercut, {{-30, 0, -8}, {30, 0, -8}});
  const auto block = Block(40, 30, 12);
  const RayDepth roof = CutRays(*block, track, {{{1, 3.5, -2}, Vector3d::UnitZ()}}, 0.0, 1)[0];
  EXPECT_NEAR(roof.top_mm, 2.0, 1e-9);
  EXPECT_FALSE(roof.cut_through);
  const RayDepth under_neck = CutRays(*block, track, {{{1, 1.0, -8}, Vector3d::UnitZ()}}, 0.0, 1)[0];
  EXPECT_NEAR(under_neck.top_mm, 0.0, 1e-6);
  const ToolTrack through = UprightTrack(undercut, {{-30, 0, -13}, {30, 0, -13}});
  const RayDepth below = CutRays(*block, through, {{{1, 3.5, -10}, -Vector3d::UnitZ()}}, 0.0, 1)[0];
  EXPECT_NEAR(below.top_mm, 13 - 2.25 - 10, 1e-6);
}

// A corner that a grid cannot hold: the foot of a flat slot's wall, and the ridge
// between two flat slots 0.02 mm apart.
TEST(DepthRaysShapesTest, ThinWallBetweenFlatSlotsStands) {
  const Cutter flat = Cutter::Of(FlatOutline({6, 20}));
  ToolTrack track = UprightTrack(flat, {{-30, -3.01, -2}, {30, -3.01, -2}, {30, -3.01, 20}, {-30, 3.01, 20}, {-30, 3.01, -2}, {30, 3.01, -2}});
  const auto at = [&](double y) { return CutRays(*Block(40, 30, 12), track, {{{1.7, y, -1}, Vector3d::UnitZ()}}, 0.0, 1)[0].top_mm; };
  EXPECT_NEAR(at(0.0), 1.0, 1e-9);
  EXPECT_NEAR(at(0.009), 1.0, 1e-9);
  EXPECT_NEAR(at(0.011), -1.0, 1e-6);
}

void ExpectSame(const RayDepth& a, const RayDepth& b, const std::string& where) {
  EXPECT_EQ(a.top_mm, b.top_mm) << where;
  EXPECT_EQ(a.touched, b.touched) << where;
  EXPECT_EQ(a.cut_through, b.cut_through) << where;
  EXPECT_EQ(a.sweep, b.sweep) << where;
  ASSERT_EQ(a.hollow.has_value(), b.hollow.has_value()) << where;
  if (!a.hollow) return;
  EXPECT_EQ(a.hollow->top_mm, b.hollow->top_mm) << where;
  EXPECT_EQ(a.hollow->bottom_mm, b.hollow->bottom_mm) << where;
  EXPECT_EQ(a.hollow->sweep, b.hollow->sweep) << where;
}

// What a group of rays leaves out together no ray of it misses: dense rays, level and
// leaning, over short sweeps at two depths with hollows under them, give to the bit
// what each gives alone, on one thread or three.
TEST(DepthRaysShapesTest, RaysTogetherGiveWhatEachGivesAlone) {
  std::mt19937_64 rng(43);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  int hollows = 0;
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    std::vector<Vector3d> tips;
    for (int pass = 0; pass < 6; ++pass) {
      for (int n = -12; n <= 12; ++n) {
        const double x = 0.4 * (pass % 2 == 0 ? n : -n);
        tips.push_back({x, 0.7 * pass - 1.8, pass == 3 ? -6.0 : -1.5 - 0.3 * std::sin(x) - 0.1 * pass});
      }
    }
    ToolTrack track = UprightTrack(named.cutter, tips);
    for (std::size_t m = 0; m < tips.size(); ++m) {
      track.axis_S[m] = Vector3d(0.1 * std::sin(0.1 * static_cast<double>(m)), 0.1 * std::cos(0.07 * static_cast<double>(m)), 1.0).normalized();
    }
    std::vector<DepthRay> rays;
    for (int n = 0; n < 60; ++n) {
      const double lean = n % 2 == 0 ? 0.0 : 0.3;
      rays.push_back({{1.2 + 1.5 * c(rng), 3.0 * c(rng), -4.5 + 2 * c(rng)}, Vector3d(lean * c(rng), lean * c(rng), 1).normalized()});
    }
    const auto block = Block(40, 40, 12);
    const auto together = CutRays(*block, track, rays, 0.0, 3), again = CutRays(*block, track, rays, 0.0, 1);
    for (std::size_t n = 0; n < rays.size(); ++n) {
      const std::string where = named.name + " ray " + std::to_string(n);
      ExpectSame(together[n], CutRays(*block, track, {rays[n]}, 0.0, 1)[0], where);
      ExpectSame(together[n], again[n], where);
      hollows += together[n].hollow ? 1 : 0;
    }
  }
  EXPECT_GT(hollows, 10);
}

}  // namespace
}  // namespace aircut::sim
