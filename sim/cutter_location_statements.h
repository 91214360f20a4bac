#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/text_lines.h"

namespace aircut::sim {

/// Statements `MAJOR/argument,argument` of a cutter-location file, one after the
/// other, in memory that does not grow with the file. A `$` at the end of a line
/// continues the statement on the next one; `$$` starts a comment; words may be
/// in either case. PARTNO, PPRINT and REMARK are text to the end of their line,
/// which nothing continues.
/// Source: statement forms of the ISO 4343 / ISO 3592 family.
class CutterLocationStatements {
 public:
  /// @throws InputError if the file is missing or cannot be opened.
  explicit CutterLocationStatements(const std::filesystem::path& file);

  /// Steps to the next statement. @returns false at the end of the file.
  /// @throws InputError for a statement that is cut off or longer than 64 KiB.
  bool Next();

  /// The word before the slash, in capitals; valid until the next call of Next().
  std::string_view major() const { return major_; }
  /// What stands behind the slash, parted at commas, in capitals; none without a slash.
  const std::vector<std::string_view>& arguments() const { return arguments_; }
  /// Number of the statement's first line in the file, from 1.
  int line() const { return line_; }
  /// `file:line` of the statement.
  std::string Place() const;

  /// @throws InputError `file:line: what`.
  [[noreturn]] void Fail(const std::string& what) const;
  /// @returns argument `index` as a finite number. @throws InputError naming it.
  double Number(std::size_t index) const;
  /// @throws InputError unless there are `count` arguments; `form` shows how the
  /// statement is written, e.g. `GODLTA/dx,dy,dz`.
  void RequireCount(std::size_t count, std::string_view form) const;
  /// @throws InputError if the statement goes on where it should end.
  void RequireWhole() const;

 private:
  std::optional<std::string_view> NextText();
  void Append(std::string_view text);
  void Split();

  std::string label_;
  TextLines lines_;
  int line_ = 0;
  std::string joined_;  // the statement, in capitals
  std::string_view major_;
  std::string_view stray_;  // what follows the major word without a slash
  std::vector<std::string_view> arguments_;
};

}  // namespace aircut::sim
