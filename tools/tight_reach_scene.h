#pragma once

#include <filesystem>

namespace aircut::tools {

/// Writes board, touched points and path of scenes/tight_reach into `folder`: a
/// groove along an oval board, the bit leaned outwards, on a board so far from the arm
/// that no fixed spin serves all of it. Deterministic.
/// @throws std::runtime_error if a file cannot be written.
void WriteTightReachScene(const std::filesystem::path& folder);

}  // namespace aircut::tools
