#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "sim/brick_size.h"

namespace aircut::sim {

/// A brick between two sweeps, to the last bit: what running on from there needs.
struct BrickState {
  std::array<float, kBrickVoxels> distance_mm;     ///< in the kernels' working order
  std::array<std::uint16_t, kBrickVoxels> remover; ///< place in `sweeps`, kNotRemoved = none
  std::vector<std::int32_t> sweeps;                ///< that removed a voxel centre, in time order
  std::int32_t solid = 0;                          ///< voxel centres in the material
  std::uint32_t open = 0;                          ///< chunks that a sweep can still change
  std::int32_t since_looked = 0;                   ///< kernel runs since `open` was brought up to date
};

}  // namespace aircut::sim
