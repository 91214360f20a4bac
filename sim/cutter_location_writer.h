#pragma once

#include <string>

#include "sim/path_program.h"

namespace aircut::sim {

/// @returns `program` as cutter-location statements in mm that
/// ReadCutterLocation reads back to the same rows and events, bit for bit but
/// for lines and for what a factor stands before in the file: feed and duration
/// (per minute) and the angles of a cutter (degrees) may differ in their last
/// bit. Whole orientations become nine values, to be read with
/// PathRules::second_vector = kToolX; their columns come back within 1e-15.
/// The feed of a rapid is left out: it means nothing. FINI closes the text,
/// so a program without a last kEnd event reads back with one.
/// @throws std::invalid_argument naming the row or event that the statements
/// cannot say: a whole orientation in some rows only, a length offset, a spindle speed
/// or tool that no event before it commands, a cutter length without its cutter,
/// an inverse-time move in the first row, an end before the last row.
std::string CutterLocationText(const PathProgram& program);

}  // namespace aircut::sim
