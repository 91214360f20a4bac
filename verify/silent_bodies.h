#pragma once

#include <string>
#include <vector>

#include "sim/cell.h"

namespace aircut::verify {

/// Keys of the bodies of a cell that nobody spoke of, neither given nor `none`:
/// hose, dust hood, floor, fixture, obstacles, housing, holders of `cutters`,
/// links from 1 up to the flange. Base and flange may be bare: a pedestal is an
/// obstacle, the spindle a body of its own.
/// @param cutters numbers of the cutters to look at; one that the cell lacks is silent.
std::vector<std::string> SilentBodies(const sim::Cell& cell, const std::vector<int>& cutters);

}  // namespace aircut::verify
