#pragma once

#include <string>

#include "verify/finding.h"

namespace aircut::tools {

/// @returns true where standard output is a terminal that shows colours and nobody
/// asked for none: NO_COLOR is not set or empty, TERM is not `dumb`.
bool OutputHasColour();

/// @returns a result's word, padded to `width`, in colour where OutputHasColour: fail
/// red, unproven bold. The word always stands; a pass has no colour.
std::string Painted(verify::Result result, std::size_t width = 0);

}  // namespace aircut::tools
