#include "sim/ray_kernel.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/sweep.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Balls about the origin that move in any direction, some of them not at all.
std::vector<StringSweep> SomeMoves(std::mt19937_64& rng, int count) {
  std::uniform_real_distribution<double> any(-1.0, 1.0);
  std::vector<StringSweep> moves;
  for (int n = 0; n < count; ++n) {
    StringSweep s;
    s.a = 3.0 * Vector3d(any(rng), any(rng), any(rng));
    s.v = n % 5 == 0 ? Vector3d(Vector3d::Zero()) : Vector3d(2.0 * Vector3d(any(rng), any(rng), any(rng)));
    if (n % 7 == 1) s.v = Vector3d(0.0, 0.0, any(rng));   // along some rays
    s.u = s.w = Vector3d::Zero();
    s.r0 = 1.5 + any(rng);
    moves.push_back(s);
  }
  return moves;
}

CapsuleMove MoveOf(const StringSweep& s, int sweep) {
  CapsuleMove move = {};
  for (int d = 0; d < 3; ++d) move.a[d] = s.a[d], move.v[d] = s.v[d];
  move.vv = s.v.squaredNorm();
  move.inv_vv = move.vv > 0.0 ? 1.0 / move.vv : 0.0;
  move.r2 = s.r0 * s.r0;
  move.sweep = sweep;
  return move;
}

RayLanes SomeRays(std::mt19937_64& rng) {
  std::uniform_real_distribution<double> any(-1.0, 1.0);
  RayLanes rays = {};
  for (int l = 0; l < kRayLanes; ++l) {
    const Vector3d up = l % 4 == 0 ? Vector3d(Vector3d::UnitZ()) : Vector3d(Vector3d(0.3 * any(rng), 0.3 * any(rng), 1.0).normalized());
    rays.x[l] = 2.0 * any(rng), rays.y[l] = 2.0 * any(rng), rays.z[l] = any(rng);
    rays.dx[l] = up.x(), rays.dy[l] = up.y(), rays.dz[l] = up.z();
    rays.lo[l] = -3.0 + any(rng);
    rays.hi[l] = 1.0 + any(rng);
  }
  return rays;
}

std::vector<std::uint32_t> Numbered(std::size_t count) {
  std::vector<std::uint32_t> which(count);
  for (std::size_t n = 0; n < count; ++n) which[n] = static_cast<std::uint32_t>(n);
  return which;
}

struct Single {
  double top, loose = 1e300;
  std::int64_t best = kNoSweep;
};

// The same from the general clip by distances, move by move.
Single CutAlone(const RayLanes& rays, int lane, const std::vector<StringSweep>& moves) {
  const Vector3d from(rays.x[lane], rays.y[lane], rays.z[lane]), up(rays.dx[lane], rays.dy[lane], rays.dz[lane]);
  Single single{rays.hi[lane]};
  for (std::size_t n = 0; n < moves.size(); ++n) {
    const LinePart part = ClipLine(moves[n], from, up, rays.lo[lane], rays.hi[lane]);
    if (!(part.hi > part.lo + 1e-5)) continue;
    if (part.hi < rays.hi[lane] - 1e-6) {
      single.loose = std::min(single.loose, part.lo);
    } else if (part.lo < single.top) {
      single.top = part.lo;
      single.best = static_cast<std::int64_t>(n);
    }
  }
  return single;
}

TEST(RayKernelTest, IsTheGeneralClipForMovedBalls) {
  std::mt19937_64 rng(11);
  int opened = 0, loose = 0;
  for (int scene = 0; scene < 200; ++scene) {
    const std::vector<StringSweep> moves = SomeMoves(rng, 6);
    std::vector<CapsuleMove> capsules;
    for (std::size_t n = 0; n < moves.size(); ++n) capsules.push_back(MoveOf(moves[n], static_cast<int>(n)));
    RayLanes rays = SomeRays(rng);
    ChooseRayKernel().clip(rays, capsules.data(), Numbered(capsules.size()).data(), static_cast<int>(capsules.size()));
    for (int l = 0; l < kRayLanes; ++l) {
      const Single single = CutAlone(rays, l, moves);
      // A ray that a ball merely grazes is cut by next to nothing.
      EXPECT_NEAR(rays.top[l], single.top, 2e-5) << scene << "/" << l;
      if (single.best != kNoSweep) {
        EXPECT_EQ(rays.best[l], single.best) << scene << "/" << l;
      }
      if (single.loose < 1e300) {
        EXPECT_NEAR(rays.loose[l], single.loose, 2e-5) << scene << "/" << l;
      }
      opened += single.best != kNoSweep ? 1 : 0;
      loose += single.loose < single.top ? 1 : 0;
    }
  }
  EXPECT_GT(opened, 500);
  EXPECT_GT(loose, 200);
}

TEST(RayKernelTest, GivesTheSameBitsWithEveryInstructionSet) {
  std::mt19937_64 rng(5);
  for (int scene = 0; scene < 50; ++scene) {
    std::vector<CapsuleMove> capsules;
    for (const StringSweep& s : SomeMoves(rng, 9)) capsules.push_back(MoveOf(s, static_cast<int>(capsules.size()) / 2));
    const RayLanes start = SomeRays(rng);
    RayLanes plain = start;
    RayKernelAt(0).clip(plain, capsules.data(), Numbered(9).data(), 9);
    for (int k = 1; k < RayKernelCount(); ++k) {
      RayLanes wide = start;
      RayKernelAt(k).clip(wide, capsules.data(), Numbered(9).data(), 9);
      for (int l = 0; l < kRayLanes; ++l) {
        EXPECT_EQ(wide.top[l], plain.top[l]) << RayKernelAt(k).instruction_set;
        EXPECT_EQ(wide.best[l], plain.best[l]) << RayKernelAt(k).instruction_set;
        EXPECT_EQ(wide.loose[l], plain.loose[l]) << RayKernelAt(k).instruction_set;
      }
    }
  }
}

// Sweeps that end where the next begins share a ball: the first one is named, in
// whichever order they are asked.
TEST(RayKernelTest, NamesTheFirstOfSweepsThatReachEquallyFar) {
  StringSweep s = {{-1.0, 0.0, 0.0}, Vector3d::Zero(), {1.0, 0.0, 0.0}, Vector3d::Zero(), 1.0, 0.0};
  const CapsuleMove first = MoveOf(s, 4);
  s.a = Vector3d::Zero();
  const CapsuleMove both[] = {MoveOf(s, 5), first};
  RayLanes rays = {};
  std::fill_n(rays.dz, kRayLanes, 1.0);
  std::fill_n(rays.lo, kRayLanes, -4.0);
  RayLanes other = rays;
  const std::uint32_t one_way[] = {0, 1}, other_way[] = {1, 0};
  ChooseRayKernel().clip(rays, both, one_way, 2);
  ChooseRayKernel().clip(other, both, other_way, 2);
  EXPECT_EQ(rays.best[0], 4);
  EXPECT_EQ(other.best[0], 4);
  EXPECT_EQ(rays.top[0], -1.0);
}

}  // namespace
}  // namespace aircut::sim
