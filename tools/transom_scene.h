#pragma once

#include <filesystem>

namespace aircut::tools {

/// Writes the meshes, the path and the touched points of scenes/transom into
/// `folder`. Deterministic. @throws std::runtime_error if a file cannot be written.
void WriteTransomScene(const std::filesystem::path& folder);

}  // namespace aircut::tools
