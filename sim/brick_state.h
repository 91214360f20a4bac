#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <type_traits>
#include <vector>

#include "sim/brick_size.h"

namespace aircut::sim {

/// A brick between two sweeps, to the last bit: what running on from there needs. One
/// block of bytes with the sweeps at its end, in memory as in a file.
struct BrickState {
  std::array<float, kBrickVoxels> distance_mm;     ///< in the kernels' working order
  std::array<std::uint16_t, kBrickVoxels> remover; ///< place in sweeps(), kNotRemoved = none
  std::int32_t solid;                              ///< voxel centres in the material
  std::uint32_t open;                              ///< chunks that a sweep can still change
  std::int32_t since_looked;                       ///< kernel runs since `open` was brought up to date
  std::int32_t sweep_count;

  /// Those that removed a voxel centre, in time order.
  const std::int32_t* sweeps() const { return reinterpret_cast<const std::int32_t*>(this + 1); }
  std::int32_t* sweeps() { return reinterpret_cast<std::int32_t*>(this + 1); }
  std::size_t bytes() const { return sizeof(BrickState) + sizeof(std::int32_t) * static_cast<std::size_t>(sweep_count); }
};
static_assert(std::is_trivially_copyable_v<BrickState> && sizeof(BrickState) % alignof(std::int32_t) == 0);

/// Room for a state with these sweeps; all else is still to be written.
inline std::shared_ptr<BrickState> MakeBrickState(const std::vector<std::int32_t>& sweeps) {
  const std::size_t bytes = sizeof(BrickState) + sizeof(std::int32_t) * sweeps.size();
  const std::shared_ptr<char[]> room(new char[bytes]);
  const std::shared_ptr<BrickState> state(room, reinterpret_cast<BrickState*>(room.get()));
  state->sweep_count = static_cast<std::int32_t>(sweeps.size());
  for (std::size_t n = 0; n < sweeps.size(); ++n) state->sweeps()[n] = sweeps[n];
  return state;
}

}  // namespace aircut::sim
