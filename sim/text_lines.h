#pragma once

#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace aircut::sim {

/// Lines of a text file, one after the other, in memory that does not grow with
/// the file. LF or CR LF end a line, the last one may lack its end; a UTF-8
/// byte-order mark at the start of the file is dropped. A line may be 64 KiB long.
class TextLines {
 public:
  /// @throws InputError if the file is missing or cannot be opened.
  explicit TextLines(const std::filesystem::path& file);

  /// Steps to the next line, blank ones too. @returns false at the end of the file.
  /// @throws InputError for a line that is too long or a read that fails.
  bool Next();

  /// The line without its end; valid until the next call of Next().
  std::string_view text() const { return text_; }
  /// Number of the line in the file, from 1; 0 before the first.
  int line() const { return line_; }
  /// `file:line`, the start of a message.
  std::string Place() const;

 private:
  void Fill();
  void RequireLength(std::size_t bytes) const;

  std::string label_;
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> file_;
  std::vector<char> buffer_;
  std::size_t begin_ = 0, end_ = 0;   // what is read and not yet handed out
  bool is_at_end_ = false;
  int line_ = 0;
  std::string_view text_;
};

}  // namespace aircut::sim
