#include "sim/cut_state.h"

#include <tuple>
#include <utility>

namespace aircut::sim {

bool PlaceLess(const Eigen::Vector3i& a, const Eigen::Vector3i& b) {
  return std::make_tuple(a.z(), a.y(), a.x()) < std::make_tuple(b.z(), b.y(), b.x());
}

CutState Advance(CutState earlier, const CutState& later) {
  CutState state;
  state.stop = later.stop;
  state.contact = std::move(earlier.contact);
  state.contact.insert(state.contact.end(), later.contact.begin(), later.contact.end());
  auto old = earlier.bricks.begin();
  for (const KeptBrick& brick : later.bricks) {
    while (old != earlier.bricks.end() && PlaceLess(old->place, brick.place)) {
      state.bricks.push_back(std::move(*old++));
    }
    const bool known = old != earlier.bricks.end() && old->place == brick.place;
    // Met again but not changed: the state from before stands.
    state.bricks.push_back(known && !brick.state ? std::move(*old) : brick);
    if (known) ++old;
  }
  for (; old != earlier.bricks.end(); ++old) state.bricks.push_back(std::move(*old));
  return state;
}

}  // namespace aircut::sim
