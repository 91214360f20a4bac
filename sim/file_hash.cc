#include "sim/file_hash.h"

#include <array>
#include <fstream>
#include <memory>
#include <stdexcept>
#include <vector>

#include <openssl/evp.h>

#include "sim/input_error.h"

namespace aircut::sim {
namespace {

// SHA-256 (FIPS 180-4) of bytes handed over piece by piece.
class Hasher {
 public:
  Hasher() : context_(EVP_MD_CTX_new(), &EVP_MD_CTX_free) {
    if (!context_ || EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr) != 1) {
      throw std::runtime_error("SHA-256 cannot be started");
    }
  }

  void Add(const char* bytes, std::size_t count) {
    if (EVP_DigestUpdate(context_.get(), bytes, count) != 1) {
      throw std::runtime_error("SHA-256 cannot go on");
    }
  }

  std::string Finish() {
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned int size = 0;
    if (EVP_DigestFinal_ex(context_.get(), digest.data(), &size) != 1) {
      throw std::runtime_error("SHA-256 cannot be finished");
    }
    constexpr char kDigits[] = "0123456789abcdef";
    std::string hex;
    for (unsigned int i = 0; i < size; ++i) {
      hex += kDigits[digest[i] >> 4];
      hex += kDigits[digest[i] & 0x0f];
    }
    return hex;
  }

 private:
  std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context_;
};

}  // namespace

std::string Sha256OfFile(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in || std::filesystem::is_directory(file)) {
    throw InputError(file.string() + ": cannot be read: check that the file exists and may be opened");
  }
  Hasher hasher;
  std::vector<char> buffer(std::size_t{1} << 16);
  while (in.read(buffer.data(), static_cast<std::streamsize>(buffer.size())), in.gcount() > 0) {
    hasher.Add(buffer.data(), static_cast<std::size_t>(in.gcount()));
  }
  if (in.bad()) throw InputError(file.string() + ": reading broke off: check the disk");
  return hasher.Finish();
}

std::string Sha256OfText(const std::string& text) {
  Hasher hasher;
  hasher.Add(text.data(), text.size());
  return hasher.Finish();
}

}  // namespace aircut::sim
