#pragma once

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <type_traits>
#include <vector>

namespace aircut::sim {

/// Puts plain values one behind the other, as they lie in memory.
class ByteWriter {
 public:
  template <typename T>
  void Put(const T& value) {
    static_assert(std::is_trivially_copyable_v<T>);
    PutBytes(&value, sizeof value);
  }
  template <typename T>
  void PutList(const std::vector<T>& values) {
    static_assert(std::is_trivially_copyable_v<T>);
    Put(static_cast<std::uint64_t>(values.size()));
    PutBytes(values.data(), values.size() * sizeof(T));
  }
  void PutText(const std::string& text) { bytes_ += text; }
  void PutBytes(const void* from, std::size_t count) { bytes_.append(static_cast<const char*>(from), count); }
  void Clear() { bytes_.clear(); }
  const std::string& bytes() const { return bytes_; }

 private:
  std::string bytes_;
};

/// Bytes that stay where they are as long as somebody holds them.
struct HeldBytes {
  std::shared_ptr<const char[]> data;
  std::size_t size = 0;
};

/// Reads what ByteWriter wrote; once something does not fit, nothing more is read.
class ByteReader {
 public:
  ByteReader(const char* data, std::size_t size) : data_(data), size_(size) {}
  explicit ByteReader(const std::string& bytes) : ByteReader(bytes.data(), bytes.size()) {}
  explicit ByteReader(const HeldBytes& bytes) : ByteReader(bytes.data.get(), bytes.size) {}
  template <typename T>
  T Get() {
    T value{};
    Copy(&value, sizeof value);
    return value;
  }
  template <typename T>
  std::vector<T> GetList() {
    const std::uint64_t count = Get<std::uint64_t>();
    if (count > (size_ - at_) / sizeof(T)) good_ = false;
    std::vector<T> values(good_ ? count : 0);
    Copy(values.data(), values.size() * sizeof(T));
    return values;
  }
  std::string GetText(std::size_t count) {
    const char* from = Pass(count);
    return from != nullptr ? std::string(from, count) : std::string();
  }
  /// The next bytes where they lie; null where there are not so many.
  const char* Pass(std::size_t count) {
    good_ = good_ && count <= size_ - at_;
    if (!good_) return nullptr;
    at_ += count;
    return data_ + at_ - count;
  }
  bool good() const { return good_; }

 private:
  void Copy(void* to, std::size_t count) {
    const char* from = Pass(count);
    if (from != nullptr && count > 0) std::memcpy(to, from, count);
  }
  const char* data_;
  std::size_t size_, at_ = 0;
  bool good_ = true;
};

/// Writes bytes with a checksum behind them (XXH3, 128 bits); the file appears whole or
/// not at all. For files that one program writes and reads again on the same machine: the
/// seal tells damage, not who wrote the file.
/// @throws std::filesystem::filesystem_error when it cannot be written.
void WriteSealed(const std::filesystem::path& file, const std::string& bytes);

/// @returns the bytes, or nothing where the file is missing, cut short or damaged.
std::optional<HeldBytes> ReadSealed(const std::filesystem::path& file);

}  // namespace aircut::sim
