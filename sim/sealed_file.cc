#include "sim/sealed_file.h"

#include <algorithm>
#include <fstream>

#include "sim/file_hash.h"

namespace aircut::sim {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kSealDigits = 64;

}  // namespace

void WriteSealed(const fs::path& file, const std::string& bytes) {
  const fs::path part = file.string() + ".part";
  {
    std::ofstream out(part, std::ios::binary | std::ios::trunc);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    out << Sha256OfText(bytes);
    if (!out.flush()) {
      throw fs::filesystem_error("the file cannot be written", part,
                                 std::make_error_code(std::errc::io_error));
    }
  }
  fs::rename(part, file);
}

std::optional<std::string> ReadSealed(const fs::path& file) {
  std::ifstream in(file, std::ios::binary | std::ios::ate);
  const std::streamoff size = in ? static_cast<std::streamoff>(in.tellg()) : 0;
  if (size < static_cast<std::streamoff>(kSealDigits)) return std::nullopt;
  std::string bytes(static_cast<std::size_t>(size), '\0');
  in.seekg(0);
  in.read(bytes.data(), size);
  if (!in) return std::nullopt;
  const std::string seal = bytes.substr(bytes.size() - kSealDigits);
  bytes.resize(bytes.size() - kSealDigits);
  return Sha256OfText(bytes) == seal ? std::optional(std::move(bytes)) : std::nullopt;
}

}  // namespace aircut::sim
