#include "sim/depth_rays.h"

#include <algorithm>
#include <cmath>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/large_blocks.h"
#include "sim/ray_cell.h"
#include "sim/sweep_binning.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Material is followed this far below a sample: a cut deeper than that below
// the design still shows as one this deep.
constexpr double kBelow_mm = 40.0;
constexpr double kAbove_mm = 120.0;
// First look: most cuts end within this below the design. A ray whose material
// is gone all the way down to it is looked at again over its whole length.
constexpr double kFirstLook_mm = kHollowsBelow_mm;
// Cells of the grid that the rays are sorted into.
constexpr double kCell_mm = 4.0;

// The piece of starting material that holds the sample (within slack).
RayDepth StartOf(const MeshIndex& solid, const DepthRay& ray, double slack, std::vector<MeshIndex::Hit>& hits) {
  RayDepth depth;
  solid.Crossings(ray.p_SQ, ray.up_S, -kBelow_mm, kAbove_mm, hits);
  // Walk upwards; whether the low end is inside follows from the first crossing.
  bool inside = !hits.empty() && !hits.front().entering;
  double entered = -kBelow_mm, gap = 1e30;
  const auto offer = [&](double lo, double hi) {
    const double off = lo > 0.0 ? lo : (hi < 0.0 ? -hi : 0.0);
    if (off > slack || off >= gap) return;
    gap = off;
    depth.has_material = true;
    depth.bottom_mm = lo;
    depth.stock_top_mm = depth.top_mm = hi;
  };
  for (const auto& hit : hits) {
    if (hit.entering) entered = hit.t_mm;
    else if (inside) offer(entered, hit.t_mm);
    inside = hit.entering;
  }
  return depth;
}

// Rays in the same small cell share their candidate sweeps.
struct RayCells {
  CellGrid grid;
  double reach_mm = 0.0;
  std::vector<std::vector<std::int32_t>> rays;   // per cell
};

// The stretch of a ray that is looked at, and its middle.
struct Piece {
  double lo, hi;
  Vector3d middle;
  double half() const { return 0.5 * (hi - lo); }
};

class RayCutter {
 public:
  RayCutter(const ToolTrack& track, const std::vector<DepthRay>& rays,
            std::vector<RayDepth>& depths, int threads)
      : track_(track), rays_(rays), depths_(depths), threads_(threads) {}

  // Cuts the named rays, following each down to `below_mm` under its sample.
  void Cut(const std::vector<std::int32_t>& which, double below_mm);

 private:
  Piece PieceOf(std::int32_t ray, double below_mm) const;
  RayCells Sort(const std::vector<std::int32_t>& which, double below_mm) const;
  void CutAlike(const std::vector<std::int32_t>& which, double below_mm);
  std::vector<CellRay> Named(const std::vector<std::int32_t>& which, double below_mm) const;

  const ToolTrack& track_;
  const std::vector<DepthRay>& rays_;
  std::vector<RayDepth>& depths_;
  int threads_;
};

Piece RayCutter::PieceOf(std::int32_t ray, double below_mm) const {
  const DepthRay& r = rays_[static_cast<std::size_t>(ray)];
  const RayDepth& depth = depths_[static_cast<std::size_t>(ray)];
  Piece piece{std::max(depth.bottom_mm, -below_mm), depth.stock_top_mm, {}};
  piece.middle = r.p_SQ + 0.5 * (piece.lo + piece.hi) * r.up_S;
  return piece;
}

RayCells RayCutter::Sort(const std::vector<std::int32_t>& which, double below_mm) const {
  RayCells cells;
  Eigen::AlignedBox3d box;
  double half = 0.0;
  for (const std::int32_t i : which) {
    const Piece piece = PieceOf(i, below_mm);
    box.extend(piece.middle);
    half = std::max(half, piece.half());
  }
  double pitch = std::max(kCell_mm, half);
  const auto count = [&](double p) { return Eigen::Array3d((box.sizes() / p).array().floor() + 1.0); };
  while (count(pitch).prod() > 4e6) pitch *= 1.25;
  cells.grid.pitch_mm = pitch;
  cells.grid.zero_centre_S = box.min().array() + 0.5 * pitch;
  cells.grid.count = count(pitch).cast<int>();
  // Nothing that removes a part of such a ray lies farther from its cell.
  cells.reach_mm = 0.5 * std::sqrt(3.0) * pitch + half;
  cells.rays.resize(static_cast<std::size_t>(cells.grid.size()));
  for (const std::int32_t i : which) {
    const Vector3d in = (PieceOf(i, below_mm).middle - box.min()) / pitch;
    const Eigen::Vector3i at = in.array().floor().cast<int>().min(cells.grid.count.array() - 1);
    cells.rays[static_cast<std::size_t>(cells.grid.IndexOf(at))].push_back(i);
  }
  return cells;
}

std::vector<CellRay> RayCutter::Named(const std::vector<std::int32_t>& which, double below_mm) const {
  std::vector<CellRay> named;
  for (const std::int32_t i : which) {
    named.push_back({&rays_[static_cast<std::size_t>(i)], PieceOf(i, below_mm).lo, &depths_[static_cast<std::size_t>(i)]});
  }
  return named;
}

// Rays of like length go together: one long ray must not make all the others
// look at every sweep within its own length.
void RayCutter::Cut(const std::vector<std::int32_t>& which, double below_mm) {
  std::vector<std::vector<std::int32_t>> alike;
  for (const std::int32_t i : which) {
    const Piece piece = PieceOf(i, below_mm);
    if (!(piece.half() > 0.0)) continue;
    std::size_t size_class = 0;
    for (double half = kCell_mm; half < piece.half(); half *= 1.5) ++size_class;
    if (alike.size() <= size_class) alike.resize(size_class + 1);
    alike[size_class].push_back(i);
  }
  for (const auto& rays : alike) {
    if (!rays.empty()) CutAlike(rays, below_mm);
  }
}

void RayCutter::CutAlike(const std::vector<std::int32_t>& which, double below_mm) {
  const RayCells cells = Sort(which, below_mm);
  if (track_.sweeps.empty()) return;
  std::vector<std::uint8_t> wanted(cells.rays.size());
  for (std::size_t c = 0; c < wanted.size(); ++c) wanted[c] = cells.rays[c].empty() ? 0 : 1;
  BinRequest request;
  request.track = &track_;
  request.grid = cells.grid;
  request.reach_mm = cells.reach_mm;
  request.wanted = &wanted;
  request.threads = threads_;
  const SweepBins bins = BinSweeps(request);
  tbb::task_arena arena(threads_);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, cells.rays.size(), [&](std::size_t c) {
      const std::int32_t* all = bins.sweeps.data();
      CutCell(Named(cells.rays[c], below_mm), {&track_, all + bins.begin[c], all + bins.begin[c + 1]});
    });
  });
}

std::vector<RayDepth> StartsOf(const MeshIndex& solid_S, const std::vector<DepthRay>& rays, double slack_mm, int threads) {
  std::vector<RayDepth> depths;
  depths.reserve(rays.size());
  FaultIn(depths.data(), rays.size() * sizeof(RayDepth), threads);
  depths.resize(rays.size());
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(tbb::blocked_range<std::size_t>(0, rays.size(), 256), [&](const tbb::blocked_range<std::size_t>& some) {
      std::vector<MeshIndex::Hit> hits;
      for (std::size_t i = some.begin(); i != some.end(); ++i) depths[i] = StartOf(solid_S, rays[i], slack_mm, hits);
    });
  });
  return depths;
}

}  // namespace

std::vector<RayDepth> CutRaysFrom(const MeshIndex& solid_S, const ToolTrack& track,
                                  const std::vector<DepthRay>& rays, double length_mm, int threads) {
  std::vector<RayDepth> depths = StartsOf(solid_S, rays, 0.0, threads);
  std::vector<std::int32_t> all;
  for (std::size_t i = 0; i < rays.size(); ++i) {
    RayDepth& depth = depths[i];
    if (!depth.has_material) continue;
    depth.stock_top_mm = depth.top_mm = std::min(0.0, depth.stock_top_mm);
    depth.bottom_mm = std::max(depth.bottom_mm, -length_mm);
    all.push_back(static_cast<std::int32_t>(i));
  }
  RayCutter(track, rays, depths, threads).Cut(all, length_mm);
  return depths;
}

std::vector<RayDepth> CutRays(const MeshIndex& solid_S, const ToolTrack& track,
                              const std::vector<DepthRay>& rays, double slack_mm, int threads) {
  std::vector<RayDepth> depths = StartsOf(solid_S, rays, slack_mm, threads);
  RayCutter cutter(track, rays, depths, threads);
  std::vector<std::int32_t> all, deep;
  for (std::size_t i = 0; i < rays.size(); ++i) {
    if (depths[i].has_material) all.push_back(static_cast<std::int32_t>(i));
  }
  cutter.Cut(all, kFirstLook_mm);
  for (const std::int32_t i : all) {
    RayDepth& depth = depths[static_cast<std::size_t>(i)];
    if (!depth.touched || depth.top_mm > -kFirstLook_mm + 1e-6) continue;
    depth.top_mm = depth.stock_top_mm;
    depth.touched = depth.cut_through = false;
    depth.sweep = -1;
    deep.push_back(i);
  }
  cutter.Cut(deep, kBelow_mm);
  return depths;
}

}  // namespace aircut::sim
