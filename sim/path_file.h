#pragma once

#include <filesystem>
#include <string>

#include "sim/path_program.h"
#include "sim/path_source.h"

namespace aircut::sim {

/// Reads a tool path of a known format into `sink`, row by row and event by event
/// in file order, in memory that does not grow with the file.
/// @param format pose_table, iso6983 or cutter_location.
/// @throws InputError with file, line, word, value, what was expected.
void ReadPathFile(const std::string& format, const std::filesystem::path& file,
                  const PathRules& rules, const PathSink& sink);

/// The same, kept whole.
PathProgram ReadPathProgram(const std::string& format, const std::filesystem::path& file,
                            const PathRules& rules);

}  // namespace aircut::sim
