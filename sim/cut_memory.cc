#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "sim/brick_run.h"
#include "sim/cut_lattice.h"
#include "sim/input_error.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Bricks that the tool can touch, counted on cells of 2 mm or more: fine bricks
// are too many to count one by one before it is known that they fit.
double TouchedBricks(const BrickBlock& block, const ToolTrack& track, double voxel) {
  if (block.count.prod() < 1.0) return 0.0;
  const double edge = kBrickEdge * voxel, pitch = std::max(edge, 2.0);
  BinRequest request;
  request.track = &track;
  request.grid.pitch_mm = pitch;
  request.grid.count = (block.count * (edge / pitch)).array().ceil().cast<int>();
  request.grid.zero_centre_S = block.anchor + edge * block.first + Vector3d::Constant(0.5 * pitch);
  request.reach_mm = 0.5 * pitch + Truncation(voxel);
  double cells = 0.0;
  for (const std::uint8_t near : CellsNearSweeps(request)) cells += near;
  return std::min(block.count.prod(), cells * std::pow(pitch / edge, 3));
}

// Pairs are not known before binning: a cutter of radius r meets about the
// bricks of its own box, each step anew.
double EstimateBytes(const BrickBlock& block, double bricks, const ToolTrack& track, const CutOptions& options) {
  const double voxel = options.voxel_mm;
  const double edge = kBrickEdge * voxel;
  double pairs = 0.0;
  for (std::size_t i = 0; i + 1 < track.time_s.size(); ++i) {
    const double r = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter.radius_mm();
    const double across = 2.0 * (r + Truncation(voxel)) / edge + 1.0;
    const double step = (track.p_ST[i + 1] - track.p_ST[i]).norm() / edge;
    pairs += across * across * (across + step) / 4.0;
  }
  // States kept on the way: most bricks are changed between two stops only.
  const double kept = options.keep_before.empty() && !options.from ? 0.0 : 2.0 * (sizeof(KeptBrick) + sizeof(BrickState));
  return block.count.prod() * 14.0 +
         bricks * (sizeof(Brick) + 160.0 + kept) + pairs * 12.0 + static_cast<double>(track.sweeps.size() * sizeof(SweepContact) * 3);
}

double VoxelThatFits(const MeshIndex& solid, const ToolTrack& track, CutOptions options) {
  const double limit = static_cast<double>(options.memory_limit_bytes);
  while (CutMemory(solid, track, options) > limit && options.voxel_mm < 1000.0) options.voxel_mm *= 1.25;
  return std::ceil(options.voxel_mm * 1000.0) / 1000.0;
}

}  // namespace

double CutMemory(const MeshIndex& solid_S, const ToolTrack& track, const CutOptions& options) {
  if (!(options.voxel_mm > 0.0)) {
    throw std::invalid_argument(fmt::format("voxel_mm = {} must be > 0", options.voxel_mm));
  }
  const BrickBlock block = BlockOf(solid_S, track, options);
  return EstimateBytes(block, TouchedBricks(block, track, options.voxel_mm), track, options);
}

void RefuseIfTooLarge(const MeshIndex& solid, const ToolTrack& track, const CutOptions& options) {
  const double limit = static_cast<double>(options.memory_limit_bytes);
  // Most cuts would fit even if the tool came to every brick of its box.
  const BrickBlock block = BlockOf(solid, track, options);
  if (EstimateBytes(block, block.count.prod(), track, options) <= limit) return;
  const double bytes = CutMemory(solid, track, options);
  if (bytes <= limit) return;
  constexpr double kGiB = 1024.0 * 1024.0 * 1024.0;
  throw InputError(fmt::format(
      "resolution_mm = {:g} would need about {:.3g} GiB of memory, above the limit of {:.3g} GiB: "
      "choose {:g} mm or coarser (job key resolution_mm or option --resolution)",
      options.voxel_mm, bytes / kGiB, static_cast<double>(options.memory_limit_bytes) / kGiB,
      VoxelThatFits(solid, track, options)));
}

}  // namespace aircut::sim
