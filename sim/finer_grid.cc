#include "sim/finer_grid.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

namespace aircut::sim {
namespace {

using Eigen::AlignedBox3d;
using Eigen::Vector3d;

Vector3d TopOf(const DepthRay& ray, const RayDepth& depth) { return ray.p_SQ + depth.top_mm * ray.up_S; }

// Rays whose surface the coarse grid misses by more than a smooth face explains, the
// worst first.
std::vector<std::size_t> PlacesToRefine(const std::vector<GridGap>& gaps) {
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < gaps.size(); ++i) {
    if (std::abs(gaps[i].gap_mm) > kSmooth_voxel * gaps[i].voxel_mm) places.push_back(i);   // false for NaN
  }
  std::stable_sort(places.begin(), places.end(), [&](std::size_t a, std::size_t b) {
    return std::abs(gaps[a].gap_mm) > std::abs(gaps[b].gap_mm);
  });
  if (places.size() > kMostRefinedPlaces) places.resize(kMostRefinedPlaces);
  return places;
}

}  // namespace

std::vector<GridGap> CompareGridAndRays(const std::vector<DepthRay>& rays, const std::vector<RayDepth>& depths,
                                        const ToolTrack& track, const CutOptions& options, const Stock& stock) {
  std::vector<GridGap> gaps(rays.size(), {std::numeric_limits<float>::quiet_NaN(), 0.0f});
  tbb::task_arena arena(options.threads);
  const auto compare = [&](const Stock& with, std::size_t i) {
    gaps[i] = {static_cast<float>(with.DistanceAt(TopOf(rays[i], depths[i]))),
               static_cast<float>(with.lattice.voxel_mm)};
  };
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, rays.size(), [&](std::size_t i) {
      if (depths[i].touched && !depths[i].cut_through) compare(stock, i);
    });
  });
  const std::vector<std::size_t> places = PlacesToRefine(gaps);
  if (places.empty()) return gaps;
  // Interpolation asks for the voxel centres around the place.
  std::vector<AlignedBox3d> boxes;
  for (const std::size_t i : places) {
    const Vector3d top = TopOf(rays[i], depths[i]), around = Vector3d::Constant(options.voxel_mm);
    boxes.emplace_back(top - around, top + around);
  }
  CutOptions fine = options;
  fine.voxel_mm = 0.5 * options.voxel_mm;
  fine.within = &boxes;
  fine.from = nullptr;
  fine.keep_before.clear();
  fine.progress = nullptr;
  if (CutMemory(*stock.solid_S, track, fine) > static_cast<double>(fine.memory_limit_bytes)) return gaps;
  const Stock refined = CutGrid(stock.solid_S, track, fine).stock;
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, places.size(), [&](std::size_t n) { compare(refined, places[n]); });
  });
  return gaps;
}

}  // namespace aircut::sim
