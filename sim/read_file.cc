#include "sim/read_file.h"

#include <fstream>
#include <system_error>

#include "sim/input_error.h"

namespace aircut::sim {

std::int64_t RequireFile(const std::filesystem::path& file) {
  std::error_code error;
  if (!std::filesystem::exists(file, error)) {
    throw InputError(file.string() + ": file not found: check the name and the folder");
  }
  if (!std::filesystem::is_regular_file(file, error)) {
    throw InputError(file.string() + ": is not a regular file: name a file");
  }
  const auto size = std::filesystem::file_size(file, error);
  if (error) throw InputError(file.string() + ": cannot be read: " + error.message());
  return static_cast<std::int64_t>(size);
}

std::string ReadFile(const std::filesystem::path& file, std::int64_t max_bytes) {
  const std::int64_t size = RequireFile(file);
  if (size > max_bytes) {
    throw InputError(file.string() + ": " + std::to_string(size) + " bytes must be <= " +
                     std::to_string(max_bytes) + " bytes: give a smaller file");
  }
  std::ifstream in(file, std::ios::binary);
  std::string bytes(static_cast<std::size_t>(size), '\0');
  in.read(bytes.data(), size);
  if (!in || in.gcount() != size) {
    throw InputError(file.string() + ": cannot be read: check that it may be opened");
  }
  return bytes;
}

}  // namespace aircut::sim
