#pragma once

#include <filesystem>
#include <string>

namespace aircut::tools {

/// A file that a verb is asked to write, and how messages speak of it.
struct AskedFile {
  const char* option;              ///< that names it, such as "--out"
  std::filesystem::path file;
  const char* suffix;              ///< it must have, such as ".png"
  const char* mend = "name another file";
};

/// Asks before anything is computed whether the file can be written.
/// @throws sim::InputError in one sentence.
void CheckOutputFile(const AskedFile& asked);

/// Whole or not at all: written beside its place, then moved there.
/// @throws sim::InputError where it cannot be written.
void WriteOutputFile(const AskedFile& asked, const std::string& bytes);

}  // namespace aircut::tools
