#include "sim/sweep_kernel.h"

#include <cmath>
#include <cstring>
#include <memory>
#include <random>

#include <gtest/gtest.h>

#include "sim/profile_sweep.h"
#include "sim/stock.h"
#include "tests/support/outline_reference.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kVoxel_mm = 0.25;

std::unique_ptr<BrickWork> SolidBrick() {
  auto work = std::make_unique<BrickWork>();
  for (int n = 0; n < kBrickVoxels; ++n) {
    work->distance_mm[n] = -0.625f;
    work->remover[n] = kNotRemoved;
  }
  return work;
}

StringMove MoveOf(const StringSweep& s) {
  StringMove m;
  for (int d = 0; d < 3; ++d) {
    m.a[d] = static_cast<float>(s.a[d]);
    m.u[d] = static_cast<float>(s.u[d]);
    m.v[d] = static_cast<float>(s.v[d]);
    m.w[d] = static_cast<float>(s.w[d]);
  }
  m.r0 = static_cast<float>(s.r0);
  m.dr = static_cast<float>(s.dr);
  return m;
}

// Random sweeps of a V whose axis turns by up to 0.5 degrees, near the brick.
std::vector<StringSweep> RandomSweeps(int count, double turn = 0.006) {
  std::mt19937_64 rng(23);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  std::vector<StringSweep> sweeps;
  for (int n = 0; n < count; ++n) {
    const Vector3d from(1.0 + c(rng), 1.0 + c(rng), 0.5 + c(rng));
    ToolTrack track = UprightTrack(Cutter::V(1.0472, 0.2, 8.0, 15.0),
                                   {from, from + 0.6 * Vector3d(c(rng), c(rng), c(rng))});
    track.axis_S[1] = Vector3d(turn * c(rng), turn * c(rng), 1.0).normalized();
    sweeps.push_back(MakeStringSweep(track, 0, 0));
  }
  return sweeps;
}

// Oracle: the plain build of the same kernels. No fused operations anywhere, so
// the widest instructions must give the same bits.
TEST(SweepKernelTest, EveryInstructionSetGivesTheSameBits) {
  const VoxelOffsets at(kVoxel_mm);
  for (int k = 1; k < KernelCount(); ++k) {
    auto plain = SolidBrick(), wide = SolidBrick();
    int event = 0;
    for (const StringSweep& s : RandomSweeps(20)) {
      const StringMove m = MoveOf(s);
      const KernelResult a = KernelsAt(0).string(*plain, at, m, {event, ~0u});
      const KernelResult b = KernelsAt(k).string(*wide, at, m, {event, ~0u});
      EXPECT_EQ(a.removed, b.removed);
      EXPECT_EQ(a.bite_um16, b.bite_um16);
      const BallMove ball = {{m.a[0], m.a[1], m.a[2] + 1.0f}, {m.v[0], m.v[1], m.v[2]},
                             1.0f / (m.v[0] * m.v[0] + m.v[1] * m.v[1] + m.v[2] * m.v[2]), 0.7f};
      KernelsAt(0).ball(*plain, at, ball, {event, ~0u});
      KernelsAt(k).ball(*wide, at, ball, {event++, ~0u});
    }
    EXPECT_EQ(std::memcmp(plain->distance_mm, wide->distance_mm, sizeof plain->distance_mm), 0)
        << KernelsAt(k).instruction_set;
    EXPECT_EQ(std::memcmp(plain->remover, wide->remover, sizeof plain->remover), 0);
  }
}

ProfileMove MoveOf(const ProfileSweep& s, int spans) {
  ProfileMove m = {};
  for (int d = 0; d < 3; ++d) {
    m.a[d] = static_cast<float>(s.tip[d]);
    m.v[d] = static_cast<float>(s.travel[d]);
    m.q[d] = static_cast<float>(s.axis[d]);
    m.w[d] = static_cast<float>(s.turn[d]);
  }
  m.lines = s.profile->lines_f.data();
  m.arcs = s.profile->arcs_f.data();
  m.line_count = static_cast<std::int32_t>(s.profile->lines_f.size());
  m.arc_count = static_cast<std::int32_t>(s.profile->arcs_f.size());
  m.spans = spans;
  return m;
}

// Random sweeps of every kind of cutter near the brick, short and long.
std::vector<ToolTrack> RandomTracks(int each, double turn) {
  std::mt19937_64 rng(29);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  std::vector<ToolTrack> tracks;
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    for (int n = 0; n < each; ++n) {
      const double length = n % 3 == 0 ? 40.0 : 0.6;
      const Vector3d middle(1.0 + 4 * c(rng), 1.0 + 4 * c(rng), 0.5 + 3 * c(rng)), half = 0.5 * length * Vector3d(c(rng), c(rng), c(rng));
      tracks.push_back(UprightTrack(named.cutter, {middle - half, middle + half}));
      tracks.back().axis_S[0] = Vector3d(c(rng), c(rng), 1.5).normalized();
      tracks.back().axis_S[1] = (tracks.back().axis_S[0] + turn * Vector3d(c(rng), c(rng), c(rng))).normalized();
    }
  }
  return tracks;
}

TEST(SweepKernelTest, ProfilesGiveTheSameBitsOnEveryInstructionSet) {
  const VoxelOffsets at(kVoxel_mm);
  for (int k = 1; k < KernelCount(); ++k) {
    auto plain = SolidBrick(), wide = SolidBrick();
    std::int64_t removed = 0;
    int event = 0;
    for (const ToolTrack& track : RandomTracks(5, 0.006)) {
      if (event % 7 == 0) plain = SolidBrick(), wide = SolidBrick();
      const ProfileMove m = MoveOf(MakeProfileSweep(track, 0, 0), 2);
      const KernelResult a = KernelsAt(0).profile(*plain, at, m, {event, ~0u});
      const KernelResult b = KernelsAt(k).profile(*wide, at, m, {event++, ~0u});
      EXPECT_EQ(a.removed, b.removed);
      EXPECT_EQ(a.bite_um16, b.bite_um16);
      EXPECT_EQ(a.run, b.run);
      removed += a.removed;
      EXPECT_EQ(std::memcmp(plain->distance_mm, wide->distance_mm, sizeof plain->distance_mm), 0) << KernelsAt(k).instruction_set;
      EXPECT_EQ(std::memcmp(plain->remover, wide->remover, sizeof plain->remover), 0);
    }
    EXPECT_GT(removed, 1000);
  }
}

// Oracle: the search in double with ten times as many spans. Deeper in the cutter
// than distances are kept the kernel may stop early.
double WorstProfileDifference(double turn) {
  const VoxelOffsets at(kVoxel_mm);
  double worst = 0.0;
  for (const ToolTrack& track : RandomTracks(6, turn)) {
    for (int part = 0; part < static_cast<int>(track.tools[0].cutter.profiles().size()); ++part) {
      const ProfileSweep s = MakeProfileSweep(track, 0, part);
      auto work = SolidBrick();
      ChooseKernels().profile(*work, at, MoveOf(s, SpansWithin(s, 2e-3)), {0, ~0u});
      const auto spans = CutIntoSpans(s, SpansWithin(s, 2e-5));
      for (int n = part % 5; n < kBrickVoxels; n += 37) {
        double exact = 1e30;
        for (const ProfileSweep& span : spans) exact = std::min(exact, DistanceToSweep(span, {at.x[n], at.y[n], at.z[n]}).distance_mm);
        const double kept = std::max(-0.625, std::min(0.625, -exact)), ours = std::min<double>(work->distance_mm[n], 0.625);
        worst = std::max(worst, std::abs(ours - kept));
      }
    }
  }
  return worst;
}

TEST(SweepKernelTest, ProfileKernelIsWithinItsBoundsOfTheExactDistance) {
  EXPECT_LE(WorstProfileDifference(0.0), 1.5e-4);
  EXPECT_LE(WorstProfileDifference(0.006), 2.5e-3);
}

// Largest difference between the kernel and the double-precision distance,
// found to convergence, over random sweeps.
double WorstDifference(double turn) {
  const VoxelOffsets at(kVoxel_mm);
  double worst = 0.0;
  for (const StringSweep& s : RandomSweeps(60, turn)) {
    auto work = SolidBrick();
    ChooseKernels().string(*work, at, MoveOf(s), {0, ~0u});
    for (int n = 0; n < kBrickVoxels; n += 7) {
      const double exact = DistanceToSweep(s, {at.x[n], at.y[n], at.z[n]}).distance_mm;
      const double expected = exact < 0.625 ? -exact : -0.625;
      worst = std::max(worst, std::abs(work->distance_mm[n] - expected));
    }
  }
  return worst;
}

// The bounds are those that swept_cut.h states.
TEST(SweepKernelTest, StringKernelIsWithinItsBoundsOfTheExactDistance) {
  EXPECT_LE(WorstDifference(0.0), 2e-5);
  EXPECT_LE(WorstDifference(0.006), 1e-3);
}

}  // namespace
}  // namespace aircut::sim
