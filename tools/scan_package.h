#pragma once

#include <filesystem>

namespace aircut::tools {

/// Turns the script of the npm package bunny 1.0.1 (`exports.positions` and
/// `exports.cells`, y up, no unit) into the scan of scenes/scan: z up, 240 mm
/// tall, standing on z = 0, its box centred on x and y; ascii PLY with four
/// decimals and a header that names origin and licence.
/// @throws std::runtime_error if the script does not hold the two tables or
/// the file cannot be written.
void WriteScanFromPackage(const std::filesystem::path& script, const std::filesystem::path& ply);

}  // namespace aircut::tools
