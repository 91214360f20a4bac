#pragma once

#include <filesystem>

#include "sim/path_source.h"

namespace aircut::sim {

/// Reads a pose table: CSV whose header names columns with units (x_mm, y_mm,
/// z_mm or _in; i,j,k or qw,qx,qy,qz; feed_mm_min, feed_in_min or feed_mm_s,
/// spindle_rpm, tool, move = cut | rapid, dwell_s). Lines that start with # are
/// comments. Streams: memory does not grow with the file.
///
/// The cutter and the spindle speed of a row hold on the way to it; kTool and
/// kSpindle events stand before the first row and before each row that changes
/// them. dwell_s is the time that the arm waits once it is there: a kDwell event
/// after the row. Of `rules`, only `defaults` mean anything here.
/// @throws InputError with file, line, column, value, what was expected.
void ReadPoseTable(const std::filesystem::path& file, const PathRules& rules, const PathSink& sink);

}  // namespace aircut::sim
