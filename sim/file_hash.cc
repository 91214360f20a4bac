#include "sim/file_hash.h"

#include <array>
#include <fstream>
#include <memory>
#include <stdexcept>
#include <vector>

#include <openssl/evp.h>

#include "sim/input_error.h"

namespace aircut::sim {

struct RunningHash::Context {
  std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> evp{EVP_MD_CTX_new(), &EVP_MD_CTX_free};
};

RunningHash::RunningHash() : context_(std::make_unique<Context>()) {
  if (!context_->evp || EVP_DigestInit_ex(context_->evp.get(), EVP_sha256(), nullptr) != 1) {
    throw std::runtime_error("SHA-256 cannot be started");
  }
}

RunningHash::~RunningHash() = default;

void RunningHash::Add(const void* bytes, std::size_t count) {
  if (EVP_DigestUpdate(context_->evp.get(), bytes, count) != 1) {
    throw std::runtime_error("SHA-256 cannot go on");
  }
}

std::string RunningHash::Hex() const {
  const Context so_far;
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  if (!so_far.evp || EVP_MD_CTX_copy_ex(so_far.evp.get(), context_->evp.get()) != 1 ||
      EVP_DigestFinal_ex(so_far.evp.get(), digest.data(), &size) != 1) {
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

std::string Sha256OfFile(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in || std::filesystem::is_directory(file)) {
    throw InputError(file.string() + ": cannot be read: check that the file exists and may be opened");
  }
  RunningHash hash;
  std::vector<char> buffer(std::size_t{1} << 16);
  while (in.read(buffer.data(), static_cast<std::streamsize>(buffer.size())), in.gcount() > 0) {
    hash.Add(buffer.data(), static_cast<std::size_t>(in.gcount()));
  }
  if (in.bad()) throw InputError(file.string() + ": reading broke off: check the disk");
  return hash.Hex();
}

std::string Sha256OfText(const std::string& text) {
  RunningHash hash;
  hash.Add(text.data(), text.size());
  return hash.Hex();
}

}  // namespace aircut::sim
