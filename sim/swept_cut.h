#pragma once

#include <functional>
#include <memory>

#include <Eigen/Geometry>

#include "sim/contact_record.h"
#include "sim/cut_state.h"
#include "sim/stock.h"
#include "sim/tool_track.h"

namespace aircut::sim {

struct CutOptions {
  double voxel_mm = 0.25;              ///< > 0
  int threads = 2;                     ///< >= 1
  std::int64_t memory_limit_bytes = std::int64_t{8} << 30;
  std::function<void(double fraction)> progress;   ///< optional; called from one thread
  /// Where to cut: bricks that none of the boxes (in S) meets are left as they were;
  /// null: everywhere. What is recorded then speaks of these places alone.
  const std::vector<Eigen::AlignedBox3d>* within = nullptr;
  /// Sweep indices, rising and not before from->stop: GridCut::kept holds the cut as
  /// it stood before each of them.
  std::vector<std::int32_t> keep_before;
  /// Where to go on: the same stock, voxel and sweeps up to its stop. Null: at the start.
  const CutState* from = nullptr;
};

/// The material after the last sweep, and what each sweep did.
struct GridCut {
  Stock stock;
  ContactRecord contact;
  std::int64_t removed_voxels = 0;
  double removed_mm3 = 0.0;
  /// One per CutOptions::keep_before; each holds only what happened since the one
  /// before it, or since CutOptions::from (see Advance).
  std::vector<CutState> kept;
};

/// Estimate of the memory a cut needs [bytes], before anything is allocated.
double CutMemory(const MeshIndex& solid_S, const ToolTrack& track, const CutOptions& options);

/// Removes what the cutter sweeps, brick by brick, each brick's sweeps in time
/// order. Bit-equal for any number of threads, and whether it begins at the start
/// or goes on from a state that an earlier cut kept.
/// Balls and ball strings with a fixed axis in closed form: voxel values within
/// 2e-5 mm; an axis that turns by up to 0.5 degrees a sweep within 1e-3 mm. Other
/// profiles within 1.5e-4 mm, with a turning axis 2.5e-3 mm; deeper in the cutter
/// than distances are kept, and in a union of profiles, less is found, never of the
/// wrong sign. To all comes int16 rounding. The surface between voxels is within 0.1 voxel
/// where smooth, 1 voxel at creases.
/// @param solid_S starting material, closed mesh in S.
/// @throws std::invalid_argument for sizes that do not agree or a voxel that
/// is not positive; InputError when the memory limit would be passed, with the
/// figure and the resolution that would fit.
GridCut CutGrid(std::shared_ptr<const MeshIndex> solid_S, const ToolTrack& track,
                const CutOptions& options);

}  // namespace aircut::sim
