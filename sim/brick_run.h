#pragma once

#include <memory>

#include "sim/brick_state.h"
#include "sim/contact_record.h"
#include "sim/sweep_binning.h"
#include "sim/sweep_kernel.h"
#include "sim/stock.h"

namespace aircut::sim {

/// What every brick's run shares; read-only while bricks run.
struct BrickRunContext {
  const MeshIndex* solid_S = nullptr;
  const ToolTrack* track = nullptr;
  const SweepBins* cutting = nullptr;
  const SweepBins* bodies = nullptr;
  const SweepKernels* kernels = nullptr;
  const VoxelOffsets* offsets = nullptr;
  const std::vector<std::vector<OutlineRow>>* outlines = nullptr;   ///< per tool of the track
  Lattice lattice;
  /// Sweep indices, rising: the brick's state before each of them is kept.
  std::vector<std::int32_t> stops;
};

/// Where a brick's cell lies and how it starts.
struct BrickStart {
  Eigen::Vector3i at;                  ///< in the lattice
  std::int64_t cell = 0;
  BrickFill fill = BrickFill::kMixed;
  const BrickState* state = nullptr;   ///< left by earlier sweeps; null: the starting material
};

/// Per stop of the context: a brick's state if a sweep changed it since the stop
/// before, else null.
using StatesAtStops = std::vector<std::shared_ptr<const BrickState>>;

/// Runs the sweeps of one brick in time order. Adds to `record` only sums and
/// maxima, so that the order in which bricks run does not matter.
/// @param brick what is left is written here; null: nobody asks.
StatesAtStops RunBrick(const BrickRunContext& context, const BrickStart& start,
                       std::vector<SweepContact>& record, Brick* brick);

/// Radius of the ball about a brick's centre that holds its voxel centres [mm].
double BrickRadius(double voxel_mm);
/// Numerical error of a measured bite [mm] for a cutter of the given nose
/// radius (Cutter::nose_radius_mm), against a face that is smooth over three voxels: the column of
/// voxel centres nearest to the contact passes up to voxel / sqrt(2) beside it. Holds
/// for bites up to the truncation; deeper ones of a pointed cutter read too small.
double BiteBound(double voxel_mm, double nose_radius_mm, double bite_mm);
/// Sweeps of profiles whose axis turns are searched in spans so short that no more
/// than this of the cut is missed [mm].
inline constexpr double kTurnBound_mm = 2e-3;
/// Distance at which stored distances end [mm].
double Truncation(double voxel_mm);

}  // namespace aircut::sim
