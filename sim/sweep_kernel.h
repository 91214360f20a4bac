#pragma once

#include <cstdint>

#include "sim/brick_size.h"

namespace aircut::sim {

/// Working copy of one brick while its sweeps are run. Plain arrays: the
/// kernels are built for several instruction sets and share no inline code.
struct BrickWork {
  alignas(64) float distance_mm[kBrickVoxels];
  alignas(64) std::int32_t remover[kBrickVoxels];
};

/// Voxel centres relative to the first centre of a brick [mm].
struct VoxelOffsets {
  explicit VoxelOffsets(double voxel_mm);
  alignas(64) float x[kBrickVoxels];
  alignas(64) float y[kBrickVoxels];
  alignas(64) float z[kBrickVoxels];
};

/// A ball that moves on a straight line: start, travel, 1 / travel^2 (0 when it
/// stands still), radius. Relative to the first voxel centre of the brick [mm].
struct BallMove {
  float a[3], v[3], inv_vv, r;
};

/// A swept ball string (see sim/sweep.h), relative to the first voxel centre.
struct StringMove {
  float a[3], u[3], v[3], w[3], r0, dr;
};

struct KernelResult {
  std::int32_t removed = 0;     ///< voxel centres that turned from material to air
  std::int32_t bite_um16 = 0;   ///< largest overlap met, in 1/65536 mm
};

/// distance = max(distance, -cutter distance) for every voxel of the brick.
/// Values are the same to the last bit for every instruction set: no fused
/// operations, no approximate roots.
struct SweepKernels {
  KernelResult (*ball)(BrickWork& work, const VoxelOffsets& at, const BallMove& move,
                       std::int32_t event);
  KernelResult (*string)(BrickWork& work, const VoxelOffsets& at, const StringMove& move,
                         std::int32_t event);
  const char* instruction_set;
};

/// The widest kernels that this processor runs.
const SweepKernels& ChooseKernels();
/// All that this processor runs, the plain ones first (for tests).
int KernelCount();
const SweepKernels& KernelsAt(int index);

}  // namespace aircut::sim
