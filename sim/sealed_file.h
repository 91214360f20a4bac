#pragma once

#include <cstdint>
#include <cstring>
#include <filesystem>
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
    bytes_.append(reinterpret_cast<const char*>(&value), sizeof value);
  }
  template <typename T>
  void PutList(const std::vector<T>& values) {
    static_assert(std::is_trivially_copyable_v<T>);
    Put(static_cast<std::uint64_t>(values.size()));
    bytes_.append(reinterpret_cast<const char*>(values.data()), values.size() * sizeof(T));
  }
  void PutText(const std::string& text) { bytes_ += text; }
  const std::string& bytes() const { return bytes_; }

 private:
  std::string bytes_;
};

/// Reads what ByteWriter wrote; once something does not fit, nothing more is read.
class ByteReader {
 public:
  explicit ByteReader(const std::string& bytes) : bytes_(bytes) {}
  template <typename T>
  T Get() {
    T value{};
    Take(&value, sizeof value);
    return value;
  }
  /// The same for what is large.
  template <typename T>
  void GetInto(T& value) {
    static_assert(std::is_trivially_copyable_v<T>);
    Take(&value, sizeof value);
  }
  template <typename T>
  std::vector<T> GetList() {
    const std::uint64_t count = Get<std::uint64_t>();
    if (count > (bytes_.size() - at_) / sizeof(T)) good_ = false;
    std::vector<T> values(good_ ? count : 0);
    Take(values.data(), values.size() * sizeof(T));
    return values;
  }
  std::string GetText(std::size_t count) {
    std::string text(count, '\0');
    Take(text.data(), count);
    return text;
  }
  bool good() const { return good_; }

 private:
  void Take(void* to, std::size_t count) {
    good_ = good_ && count <= bytes_.size() - at_;
    if (!good_ || count == 0) return;
    std::memcpy(to, bytes_.data() + at_, count);
    at_ += count;
  }
  const std::string& bytes_;
  std::size_t at_ = 0;
  bool good_ = true;
};

/// Writes bytes with their SHA-256 behind them; the file appears whole or not at all.
/// For files that one program writes and reads again on the same machine.
/// @throws std::filesystem::filesystem_error when it cannot be written.
void WriteSealed(const std::filesystem::path& file, const std::string& bytes);

/// @returns the bytes, or nothing where the file is missing, cut short or damaged.
std::optional<std::string> ReadSealed(const std::filesystem::path& file);

}  // namespace aircut::sim
