#pragma once

#include <filesystem>

namespace aircut::tools {

/// Writes the block, the touched points and the paths of scenes/ring into
/// `folder`: one ring groove in each path format, every pose on the same line of
/// each file, and once more with arcs. Deterministic.
/// @throws std::runtime_error if a file cannot be written.
void WriteRingScene(const std::filesystem::path& folder);

}  // namespace aircut::tools
