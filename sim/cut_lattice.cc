#include "sim/cut_lattice.h"

#include "sim/brick_run.h"

namespace aircut::sim {

using Eigen::AlignedBox3d;
using Eigen::Vector3d;
using Eigen::Vector3i;

namespace {

AlignedBox3d ReachOf(const ToolTrack& track) {
  AlignedBox3d reach;
  for (int i = 0; i < static_cast<int>(track.sweeps.size()); ++i) {
    reach.extend(SweepBox(track, i, ToolPart::kCutting));
    reach.extend(SweepBox(track, i, ToolPart::kBodies));
  }
  return reach;
}

}  // namespace

BrickBlock BlockOf(const MeshIndex& solid, const ToolTrack& track, const CutOptions& options) {
  const double voxel = options.voxel_mm, edge = kBrickEdge * voxel, margin = Truncation(voxel);
  const AlignedBox3d reach = ReachOf(track);
  BrickBlock block;
  if (reach.isEmpty()) return block;
  const AlignedBox3d stock(solid.box().min().array() - voxel, solid.box().max().array() + voxel);
  AlignedBox3d box = stock.intersection(
      AlignedBox3d(reach.min().array() - margin, reach.max().array() + margin));
  if (options.within) {
    AlignedBox3d asked;
    for (const AlignedBox3d& part : *options.within) asked.extend(part);
    box = asked.isEmpty() ? asked : box.intersection(asked);
  }
  if (box.isEmpty()) return block;
  block.anchor = solid.box().min().array() - 0.618 * voxel;
  block.first = ((box.min() - block.anchor) / edge).array().floor();
  block.count = ((box.max() - block.anchor) / edge).array().floor() - block.first.array() + 1.0;
  return block;
}

Lattice MakeLattice(const MeshIndex& solid, const ToolTrack& track, const CutOptions& options) {
  const BrickBlock block = BlockOf(solid, track, options);
  Lattice lattice;
  lattice.voxel_mm = options.voxel_mm;
  lattice.anchor_S = block.anchor;
  lattice.first = block.first.cast<int>();
  lattice.origin_S = lattice.BrickCorner(Vector3i::Zero());
  lattice.bricks = block.count.cast<int>();
  return lattice;
}

CellGrid GridOf(const Lattice& lattice) {
  CellGrid grid;
  grid.pitch_mm = kBrickEdge * lattice.voxel_mm;
  grid.zero_centre_S = lattice.anchor_S.array() + 0.5 * (kBrickEdge - 1) * lattice.voxel_mm;
  grid.first = lattice.first;
  grid.count = lattice.bricks;
  return grid;
}

std::vector<std::uint8_t> CellsWithin(const CellGrid& grid, const std::vector<AlignedBox3d>& boxes) {
  std::vector<std::uint8_t> within(static_cast<std::size_t>(grid.size()), 0);
  const Vector3d past = grid.count.cast<double>();
  const auto place = [&](const Vector3d& p) {
    const Vector3d at = ((p - grid.zero_centre_S) / grid.pitch_mm).array().round();
    return Vector3i((at - grid.first.cast<double>()).cwiseMax(-1.0).cwiseMin(past).cast<int>());
  };
  for (const AlignedBox3d& box : boxes) {
    const Vector3i first = place(box.min()).cwiseMax(0);
    const Vector3i last = place(box.max()).cwiseMin(grid.count - Vector3i::Ones());
    for (int z = first.z(); z <= last.z(); ++z) {
      for (int y = first.y(); y <= last.y(); ++y) {
        for (int x = first.x(); x <= last.x(); ++x) {
          within[static_cast<std::size_t>(grid.IndexOf({x, y, z}))] = 1;
        }
      }
    }
  }
  return within;
}

}  // namespace aircut::sim
