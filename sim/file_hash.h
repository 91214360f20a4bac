#pragma once

#include <filesystem>
#include <memory>
#include <string>

namespace aircut::sim {

/// SHA-256 (FIPS 180-4) of bytes handed over piece by piece.
class RunningHash {
 public:
  RunningHash();
  ~RunningHash();
  RunningHash(const RunningHash&) = delete;
  RunningHash& operator=(const RunningHash&) = delete;

  void Add(const void* bytes, std::size_t count);
  /// @returns the hash of what was added so far, 64 hex digits; more may be added.
  std::string Hex() const;

 private:
  struct Context;
  std::unique_ptr<Context> context_;
};

/// @returns the SHA-256 of a file as 64 hex digits. @throws InputError if it cannot be read.
std::string Sha256OfFile(const std::filesystem::path& file);
/// @returns the SHA-256 of a text as 64 hex digits.
std::string Sha256OfText(const std::string& text);

}  // namespace aircut::sim
