#pragma once

#include <string>

#include "sim/job.h"

namespace aircut::verify {

/// What was understood of a cell, in the trade's words, for a person to hold
/// against the thing on the floor: arm, reach, frames, tool stacks added up,
/// spindle, controller, workpiece, bodies, premises, what was read and not used,
/// what was assumed, which files were read. Lengths in mm, angles in degrees as
/// the panel shows them, numbers as they were given. Plain UTF-8 text that ends
/// with a line end; deterministic. No files are touched.
std::string CellSheet(const sim::LoadedCellFile& loaded);

}  // namespace aircut::verify
