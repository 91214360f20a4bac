#pragma once

#include <cstdint>
#include <vector>

#include "sim/swept_cut.h"
#include "sim/sweep_binning.h"

namespace aircut::sim {

/// Whole bricks of the endless lattice near the tool: first brick and count along
/// each axis, as real numbers that no fineness can overflow.
struct BrickBlock {
  Eigen::Vector3d anchor = Eigen::Vector3d::Zero(), first = Eigen::Vector3d::Zero(),
                  count = Eigen::Vector3d::Zero();
};

/// The part of the stock that the tool comes near, within the boxes asked for.
/// The lattice sits at a fixed odd fraction of a voxel from the stock's corner, so
/// that no face of an upright block falls on voxel centres.
BrickBlock BlockOf(const MeshIndex& solid_S, const ToolTrack& track, const CutOptions& options);

/// The same as a lattice of bricks; what does not fit in `int` was refused before.
Lattice MakeLattice(const MeshIndex& solid_S, const ToolTrack& track, const CutOptions& options);

/// One cell a brick, centred amid its voxel centres.
CellGrid GridOf(const Lattice& lattice);

/// Cells whose cube one of the boxes meets: 1, else 0.
std::vector<std::uint8_t> CellsWithin(const CellGrid& grid,
                                      const std::vector<Eigen::AlignedBox3d>& boxes);

/// @throws InputError when the cut would pass its memory limit, with the figure and
/// the resolution that would fit.
void RefuseIfTooLarge(const MeshIndex& solid_S, const ToolTrack& track, const CutOptions& options);

}  // namespace aircut::sim
