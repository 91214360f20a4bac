#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include <Eigen/Core>

#include "sim/brick_state.h"
#include "sim/contact_record.h"

namespace aircut::sim {

/// A brick that sweeps came near to.
struct KeptBrick {
  Eigen::Vector3i place = Eigen::Vector3i::Zero();   ///< in the endless lattice (see Lattice)
  std::shared_ptr<const BrickState> state;           ///< null: no sweep changed it
};

/// A cut as it stood before one of its sweeps: what it takes to go on from there to
/// the last bit.
struct CutState {
  std::int32_t stop = 0;                 ///< sweeps before this one are done
  std::vector<KeptBrick> bricks;         ///< by rising place: z, then y, then x
  std::vector<SweepContact> contact;     ///< of the sweeps done
};

/// Puts what happened after a state on top of it.
/// @param later holds the bricks that changed, and the contact, since earlier.stop.
CutState Advance(CutState earlier, const CutState& later);

/// Order of bricks in a CutState.
bool PlaceLess(const Eigen::Vector3i& a, const Eigen::Vector3i& b);

}  // namespace aircut::sim
