#pragma once

#include <string>
#include <vector>

#include "sim/cell.h"

namespace aircut::verify {

/// A bond between the cell's file and the shop floor: what it rests on.
struct PremiseSource {
  std::string check;     ///< id, as in sim/check_ids.h
  bool second = false;   ///< something besides the file's own word is given
  std::string has;       ///< what there is
  std::string key;       ///< dotted key to add; empty when nothing is missing
  std::string action;    ///< what to do on the shop floor for it
};

/// The premises that a cell alone can have a second source for, in the order of
/// sim/check_ids.h. Whether the sources agree is for the checks of a job to say.
std::vector<PremiseSource> PremisesOf(const sim::Cell& cell);

}  // namespace aircut::verify
