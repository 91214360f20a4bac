#pragma once

#include <string>
#include <vector>

#include "sim/path_program.h"

namespace aircut::sim {

/// @returns the kTool and kSpindle events that a reader of a pose table sees in
/// rows: before the first one and before each that changes them.
std::vector<PathEvent> ChangesInRows(const std::vector<PoseRow>& rows);

/// @returns `program` as a pose table that ReadPoseTable reads back to the same
/// rows and events, bit for bit but for their lines and for orientations given
/// whole, which pass through a quaternion (1e-15). The numbers are the shortest
/// that do so; the feed stands in mm/s.
/// @throws std::invalid_argument naming the row or event that a pose table cannot
/// say: a written duration, a length offset, orientations in some rows only, a
/// spindle or tool event that is no change between rows, two dwells in one place,
/// a dwell before the first row, any other event.
std::string PoseTableText(const PathProgram& program);

}  // namespace aircut::sim
