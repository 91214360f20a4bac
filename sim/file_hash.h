#pragma once

#include <filesystem>
#include <string>

namespace aircut::sim {

/// @returns the SHA-256 of a file as 64 hex digits. @throws InputError if it cannot be read.
std::string Sha256OfFile(const std::filesystem::path& file);
/// @returns the SHA-256 of a text as 64 hex digits.
std::string Sha256OfText(const std::string& text);

}  // namespace aircut::sim
