#pragma once

#include <filesystem>

namespace aircut::tools {

/// Writes the engraving path and the touched points of scenes/scan for the
/// scan in `scan` into `folder`. Deterministic.
/// @throws std::runtime_error if the band does not lie on the scan or a file
/// cannot be written; sim::InputError if the scan cannot be read.
void WriteScanScene(const std::filesystem::path& scan, const std::filesystem::path& folder);

}  // namespace aircut::tools
