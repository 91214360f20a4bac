#pragma once

#include <filesystem>

namespace aircut::tools {

/// Letters with crossing strokes, cut with a V into a flat board: writes the board,
/// the path and the touched points. The YAML files beside them are written by hand.
void WriteVLetteringScene(const std::filesystem::path& folder);

}  // namespace aircut::tools
