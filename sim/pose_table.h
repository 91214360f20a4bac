#pragma once

#include <filesystem>

#include "sim/path_source.h"

namespace aircut::sim {

/// Reads a pose table: CSV whose header names columns with units (x_mm, y_mm,
/// z_mm or _in; i,j,k or qw,qx,qy,qz; feed_mm_min or feed_in_min, spindle_rpm,
/// tool, move = cut | rapid). Lines that start with # are comments. Streams.
/// @throws InputError with file, line, column, value, what was expected.
std::vector<PoseRow> ReadPoseTable(const std::filesystem::path& file, const PathDefaults& defaults);

}  // namespace aircut::sim
