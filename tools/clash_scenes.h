#pragma once

#include <filesystem>

namespace aircut::tools {

/// Writes blocks and paths of the scenes clash_* into their folders below `scenes`:
/// small jobs in which something touches, each with a twin that just keeps clear.
/// Deterministic.
/// @throws std::runtime_error if a file cannot be written.
void WriteClashScenes(const std::filesystem::path& scenes);

}  // namespace aircut::tools
