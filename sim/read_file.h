#pragma once

#include <cstdint>
#include <filesystem>
#include <string>

namespace aircut::sim {

/// @returns all bytes of a regular file.
/// @throws InputError if it is missing, not a file, unreadable or larger than
/// `max_bytes` (checked before anything is allocated).
std::string ReadFile(const std::filesystem::path& file, std::int64_t max_bytes);

/// @throws InputError unless `file` is there and is a regular file.
/// @returns its size in bytes.
std::int64_t RequireFile(const std::filesystem::path& file);

}  // namespace aircut::sim
