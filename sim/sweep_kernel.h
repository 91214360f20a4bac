#pragma once

#include <cstdint>

#include "sim/brick_size.h"
#include "sim/profile_pieces.h"

namespace aircut::sim {

/// Voxels that are run together: a block of 4 x 2 x 2.
inline constexpr int kChunkVoxels = 16;
inline constexpr int kChunks = kBrickVoxels / kChunkVoxels;

/// Working copy of one brick while its sweeps are run, chunk after chunk. Plain
/// arrays: the kernels are built for several instruction sets and share no
/// inline code.
struct BrickWork {
  alignas(64) float distance_mm[kBrickVoxels];
  alignas(64) std::int32_t remover[kBrickVoxels];
};

/// Voxel centres relative to the first centre of a brick [mm], in working order.
struct VoxelOffsets {
  explicit VoxelOffsets(double voxel_mm);
  alignas(64) float x[kBrickVoxels];
  alignas(64) float y[kBrickVoxels];
  alignas(64) float z[kBrickVoxels];
  alignas(64) float chunk_x[kChunks];   ///< middles of the chunks
  alignas(64) float chunk_y[kChunks];
  alignas(64) float chunk_z[kChunks];
  float chunk_radius;                   ///< of the ball about a middle that holds the centres
  float kept;                           ///< distances are kept up to this far from the surface
  std::int16_t stored[kBrickVoxels];    ///< place in a stored brick: x + 8 (y + 8 z)
  alignas(64) std::int32_t place_x[kBrickVoxels];   ///< that x, y and z
  alignas(64) std::int32_t place_y[kBrickVoxels];
  alignas(64) std::int32_t place_z[kBrickVoxels];
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

/// A swept convex profile (see sim/profile_sweep.h), relative to the first voxel
/// centre: tip end a + t v, axis q + t w. Its pieces stay the caller's. `spans`
/// equal parts of time are searched one by one.
struct ProfileMove {
  float a[3], v[3], q[3], w[3];
  const ProfileLine<float>* lines;
  const ProfileArc<float>* arcs;
  std::int32_t line_count, arc_count, spans;
};

/// Which sweep runs, and the chunks it may change (bit c = chunk c).
struct KernelCall {
  std::int32_t event;
  std::uint32_t open;
};

struct KernelResult {
  std::int32_t removed = 0;     ///< voxel centres that turned from material to air
  std::int32_t bite_um16 = 0;   ///< largest overlap met, in 1/65536 mm
  std::uint32_t run = 0;        ///< chunks that were near enough to be run
};

/// A stretch of a cutter's outline between two heights above the tip end: there the radius
/// is radius + (z - low) slope + bulge sqrt(radius2 - (z - middle_z)^2) [mm].
struct OutlineRow {
  float low, high, radius, slope, bulge, middle_z, radius2;
};

/// What tells with which part of the cutter a sweep met a place (see sim/reach_gauge.h),
/// relative to the first voxel centre: tip end and axis at the start, travel, the share of
/// it per mm ahead (`pace`), the directions ahead and to the left.
struct ReachMove {
  float tip[3], axis[3], travel[3], pace[3], ahead[3], left[3];
  float slack;              ///< what is to be added to the highest place met
  std::int32_t sideways;    ///< 0: it moves along its own axis only
  const OutlineRow* rows;
  std::int32_t row_count;
};

/// Which removal is asked about: the voxels of these chunks that carry the event.
struct ReachCall {
  std::int32_t event;
  std::uint32_t chunks;
};

/// Of the voxels asked about; without any, count is 0 and the rest means nothing.
struct ReachResult {
  float axial_low, axial_high, radial;   ///< heights above the tip, distance from the axis [mm]
  std::uint32_t arc;                     ///< sectors, as SweepContact::arc
  std::int32_t count, place_sums[3];     ///< and the sums of their places in the brick
};

/// The search over a profile's sweep ends within this of the least distance [mm].
inline constexpr float kProfileGap_mm = 1e-4f;

/// distance = max(distance, -cutter distance) for every voxel that the sweep can
/// change. Values are the same to the last bit for every instruction set: no
/// fused operations, no approximate roots.
struct SweepKernels {
  KernelResult (*ball)(BrickWork& work, const VoxelOffsets& at, const BallMove& move,
                       const KernelCall& call);
  KernelResult (*string)(BrickWork& work, const VoxelOffsets& at, const StringMove& move,
                         const KernelCall& call);
  KernelResult (*profile)(BrickWork& work, const VoxelOffsets& at, const ProfileMove& move,
                          const KernelCall& call);
  ReachResult (*reach)(const BrickWork& work, const VoxelOffsets& at, const ReachMove& move,
                       const ReachCall& call);
  /// Chunks that still hold a distance below `at.kept`; the others are air for good.
  std::uint32_t (*open)(const BrickWork& work, const VoxelOffsets& at);
  const char* instruction_set;
};

/// The widest kernels that this processor runs.
const SweepKernels& ChooseKernels();
/// All that this processor runs, the plain ones first (for tests).
int KernelCount();
const SweepKernels& KernelsAt(int index);

}  // namespace aircut::sim
