// With which part of the cutter a place was met, for every kind of cutter, on every instruction set.

#include "sim/reach_gauge.h"

#include <cmath>
#include <cstring>
#include <memory>
#include <random>

#include <gtest/gtest.h>

#include "sim/stock.h"
#include "tests/support/outline_reference.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kVoxel_mm = 0.25;
constexpr std::int32_t kEvent = 7;

// A brick of which every eighth voxel or so was removed by kEvent.
std::unique_ptr<BrickWork> SomeRemoved(std::mt19937_64& rng) {
  auto work = std::make_unique<BrickWork>();
  for (int n = 0; n < kBrickVoxels; ++n) {
    work->distance_mm[n] = 0.0f;
    work->remover[n] = rng() % 8 == 0 ? kEvent : kNotRemoved;
  }
  return work;
}

struct Scene {
  ToolTrack track;
  std::vector<OutlineRow> rows;
  std::unique_ptr<BrickWork> work;
};

// Every kind of cutter on short and long ways near the brick; every fifth is a plunge.
std::vector<Scene> Scenes(int each) {
  std::mt19937_64 rng(31);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  std::vector<Scene> scenes;
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    for (int n = 0; n < each; ++n) {
      const Vector3d from(1.0 + 2 * c(rng), 1.0 + 2 * c(rng), -1.0 + c(rng));
      const Vector3d axis = Vector3d(0.3 * c(rng), 0.3 * c(rng), 1.0).normalized();
      const Vector3d travel = n % 5 == 0 ? Vector3d(-0.8 * axis) : Vector3d(0.7 * c(rng), 0.7 * c(rng), 0.2 * c(rng));
      Scene scene;
      scene.track = UprightTrack(named.cutter, {from, from + travel});
      scene.track.axis_S = {axis, axis};
      scene.rows = OutlineRows(named.cutter);
      scene.work = SomeRemoved(rng);
      scenes.push_back(std::move(scene));
    }
  }
  return scenes;
}

ReachMove MoveOf(const Scene& scene) { return MakeReachMove(scene.track, 0, Vector3d::Zero(), scene.rows); }

TEST(ReachKernelTest, EveryInstructionSetTellsTheSame) {
  const VoxelOffsets at(kVoxel_mm);
  for (const Scene& scene : Scenes(10)) {
    const ReachResult plain = KernelsAt(0).reach(*scene.work, at, MoveOf(scene), {kEvent, ~0u});
    for (int k = 1; k < KernelCount(); ++k) {
      const ReachResult wide = KernelsAt(k).reach(*scene.work, at, MoveOf(scene), {kEvent, ~0u});
      EXPECT_EQ(std::memcmp(&plain, &wide, sizeof plain), 0) << KernelsAt(k).instruction_set;
    }
  }
}

// Where one voxel lies in the tool, by angles and Cutter::RadiusAt in double.
struct Reached {
  double axial = 0, radial = 0, angle = 0;
};

Reached ReachOf(const Scene& scene, const Vector3d& p) {
  const ToolTrack& track = scene.track;
  const Vector3d axis = track.axis_S[0], travel = track.p_ST[1] - track.p_ST[0], y = p - track.p_ST[0];
  const Vector3d across = travel - travel.dot(axis) * axis;
  const bool sideways = across.norm() > 1e-6;
  const double share = sideways ? std::clamp(y.dot(across) / across.squaredNorm(), 0.0, 1.0) : 0.0;
  const Vector3d z = y - share * travel;
  const Vector3d ahead = sideways ? Vector3d(across.normalized()) : axis.unitOrthogonal();
  double front = y.dot(ahead);
  const double left = y.dot(axis.cross(ahead));
  const double wide = track.tools[0].cutter.RadiusAt(y.dot(axis));
  if (sideways && std::hypot(front, left) >= wide) front = wide > std::abs(left) ? std::sqrt(wide * wide - left * left) : 0.0;
  return {z.dot(axis), z.cross(axis).norm(), std::atan2(left, front)};
}

// A sector lies about its angle; one whose edge runs through the place may be either.
bool HasSector(std::uint32_t arc, double angle) {
  const double sector = std::fmod(angle / (2 * M_PI) + 1.0, 1.0) * kArcSectors;
  const auto bit = [&](double s) { return arc >> (static_cast<int>(std::floor(s + kArcSectors)) % kArcSectors) & 1u; };
  return bit(sector - 0.02) || bit(sector + 0.02);
}

// Oracle: every removed voxel by itself, in double and by angles.
TEST(ReachKernelTest, TellsWhatEveryVoxelTells) {
  const VoxelOffsets at(kVoxel_mm);
  for (const Scene& scene : Scenes(10)) {
    const ReachMove move = MoveOf(scene);
    const ReachResult told = ChooseKernels().reach(*scene.work, at, move, {kEvent, ~0u});
    double low = 1e30, high = -1e30, radial = 0;
    int count = 0, x_sum = 0;
    for (int n = 0; n < kBrickVoxels; ++n) {
      if (scene.work->remover[n] != kEvent) continue;
      const Reached one = ReachOf(scene, {at.x[n], at.y[n], at.z[n]});
      low = std::min(low, one.axial);
      high = std::max(high, one.axial);
      radial = std::max(radial, one.radial);
      x_sum += at.stored[n] % kBrickEdge;
      ++count;
      EXPECT_TRUE(HasSector(told.arc, one.angle)) << one.angle;
    }
    EXPECT_NEAR(told.axial_low, low, 2e-6);
    EXPECT_NEAR(told.axial_high, high, 2e-6);
    EXPECT_NEAR(told.radial, radial, 1e-5);
    EXPECT_EQ(told.count, count);
    EXPECT_EQ(told.place_sums[0], x_sum);
  }
}

// Chunks that are not asked about, and other events, tell nothing.
TEST(ReachKernelTest, OnlyTheEventInTheChunksAskedAboutCounts) {
  const VoxelOffsets at(kVoxel_mm);
  const Scene scene = std::move(Scenes(1)[0]);
  EXPECT_EQ(ChooseKernels().reach(*scene.work, at, MoveOf(scene), {kEvent, 0u}).count, 0);
  EXPECT_EQ(ChooseKernels().reach(*scene.work, at, MoveOf(scene), {kEvent + 1, ~0u}).count, 0);
  int halves = 0;
  for (const std::uint32_t half : {0x0000ffffu, 0xffff0000u}) {
    halves += ChooseKernels().reach(*scene.work, at, MoveOf(scene), {kEvent, half}).count;
  }
  EXPECT_EQ(halves, ChooseKernels().reach(*scene.work, at, MoveOf(scene), {kEvent, ~0u}).count);
}

}  // namespace
}  // namespace aircut::sim
