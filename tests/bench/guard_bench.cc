// What guards the depth and the stock: the third computation of depth on 1,000 samples of
// the finishing workload, beside the exact rays on the same samples; and winding numbers
// of a board of 204,300 triangles by series, beside the sum over all triangles. Every
// variant checks its answers against the other.

#include <cmath>
#include <cstdlib>
#include <random>
#include <vector>

#include <benchmark/benchmark.h>

#include "sim/dense_poses.h"
#include "sim/outline_shapes.h"
#include "sim/winding_number.h"
#include "tests/sim/sample_meshes.h"
#include "tests/support/ball_finishing.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

std::vector<DepthRay> SomeRays() {
  std::mt19937_64 rng(1);
  std::uniform_real_distribution<double> across(5, 195);
  std::vector<DepthRay> rays;
  for (int i = 0; i < 1000; ++i) {
    const double x = across(rng), y = across(rng);
    rays.push_back({{x, y, -2.0}, Vector3d::UnitZ()});
  }
  return rays;
}

void DensePoses(benchmark::State& state) {
  const ToolTrack track = BallFinishing(401);
  const std::vector<DepthRay> rays = SomeRays();
  const std::vector<RayDepth> exact = CutRays(*FinishingBlock(), track, rays, 1.0, 2);
  for (auto _ : state) {
    const auto dense = DepthByDensePoses(track, {BallOutline({6.0, 22.0})}, rays, exact, 2);
    for (std::size_t i = 0; i < rays.size(); ++i) {
      if (std::abs(dense[i].top_mm - exact[i].top_mm) > kRayBound_mm) std::abort();
    }
  }
}
BENCHMARK(DensePoses)->Name("DepthGuard/dense_poses")->Unit(benchmark::kMillisecond)->UseRealTime();

void ExactRays(benchmark::State& state) {
  const ToolTrack track = BallFinishing(401);
  const auto block = FinishingBlock();
  const std::vector<DepthRay> rays = SomeRays();
  for (auto _ : state) benchmark::DoNotOptimize(CutRays(*block, track, rays, 1.0, 2));
}
BENCHMARK(ExactRays)->Name("DepthGuard/exact_rays")->Unit(benchmark::kMillisecond)->UseRealTime();

Mesh Board() {
  return BoardMesh(200, 0, 225, [](double x, double) { return 40.0 - 0.0005 * (x - 100.0) * (x - 100.0); });
}

std::vector<Vector3d> Places(int count) {
  std::mt19937_64 rng(2);
  std::vector<Vector3d> places;
  for (int i = 0; i < count; ++i) places.push_back(RandomPoint(rng, 0.0, 60.0));
  return places;
}

void Series(benchmark::State& state) {
  const Mesh board = Board();
  const WindingField field(board);
  const auto places = Places(2000);
  for (int i = 0; i < 20; ++i) {
    if (field.Inside(places[i]) != (WindingNumber(board, places[i]) > 0.5)) std::abort();
  }
  for (auto _ : state) {
    for (const Vector3d& p : places) benchmark::DoNotOptimize(field.Inside(p));
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(places.size()));
}
BENCHMARK(Series)->Name("WindingNumber/series")->Unit(benchmark::kMillisecond);

void FullSum(benchmark::State& state) {
  const Mesh board = Board();
  const auto places = Places(20);
  for (auto _ : state) {
    for (const Vector3d& p : places) benchmark::DoNotOptimize(WindingNumber(board, p));
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(places.size()));
}
BENCHMARK(FullSum)->Name("WindingNumber/full_sum")->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace aircut::sim
