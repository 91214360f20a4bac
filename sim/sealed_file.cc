#include "sim/sealed_file.h"

#include <fstream>

#include <xxhash.h>

namespace aircut::sim {
namespace {

namespace fs = std::filesystem;

std::string SealOf(const char* bytes, std::size_t size) {
  XXH128_canonical_t seal;
  XXH128_canonicalFromHash(&seal, XXH3_128bits(bytes, size));
  return std::string(reinterpret_cast<const char*>(seal.digest), sizeof seal.digest);
}

}  // namespace

void WriteSealed(const fs::path& file, const std::string& bytes) {
  const fs::path part = file.string() + ".part";
  {
    std::ofstream out(part, std::ios::binary | std::ios::trunc);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    out << SealOf(bytes.data(), bytes.size());
    if (!out.flush()) {
      throw fs::filesystem_error("the file cannot be written", part,
                                 std::make_error_code(std::errc::io_error));
    }
  }
  fs::rename(part, file);
}

std::optional<HeldBytes> ReadSealed(const fs::path& file) {
  std::ifstream in(file, std::ios::binary | std::ios::ate);
  const std::streamoff whole = in ? static_cast<std::streamoff>(in.tellg()) : 0;
  const std::streamoff size = whole - static_cast<std::streamoff>(sizeof(XXH128_canonical_t));
  if (size < 0) return std::nullopt;
  const std::shared_ptr<char[]> bytes(new char[static_cast<std::size_t>(whole)]);   // needs no zeros
  in.seekg(0);
  in.read(bytes.get(), whole);
  if (!in) return std::nullopt;
  const HeldBytes held{bytes, static_cast<std::size_t>(size)};
  const std::string seal(bytes.get() + size, sizeof(XXH128_canonical_t));
  return SealOf(bytes.get(), held.size) == seal ? std::optional(held) : std::nullopt;
}

}  // namespace aircut::sim
