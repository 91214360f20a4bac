#pragma once

#include <string>
#include <vector>

#include "sim/cell.h"

namespace aircut::verify {

/// Bodies on links that lie far from both joints of their link: most likely drawn in
/// another frame than that of the link.
/// @returns a phrase for each, with its distance.
std::vector<std::string> FloatingBodies(const sim::Cell& cell);

}  // namespace aircut::verify
