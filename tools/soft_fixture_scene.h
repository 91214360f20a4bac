#pragma once

#include <filesystem>

namespace aircut::tools {

/// Writes the generated inputs of scenes/soft_fixture: a block, one V groove along it, and
/// the push tests of a firm cradle and of one on springs. All of it is invented.
/// @throws std::runtime_error if a file cannot be written.
void WriteSoftFixtureScene(const std::filesystem::path& folder);

}  // namespace aircut::tools
