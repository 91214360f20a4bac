#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "sim/text_lines.h"

namespace aircut::sim {

/// Rows of a comma-separated table, one after the other, in memory that does
/// not grow with the file. Blank lines and lines that start with # are passed
/// over; blanks around a value are dropped; LF or CR LF end a line; fields are
/// not quoted. A line may be 64 KiB long.
class CsvRows {
 public:
  /// @throws InputError if the file is missing or cannot be opened.
  explicit CsvRows(const std::filesystem::path& file);

  /// Steps to the next row. @returns false at the end of the file.
  /// @throws InputError for a line that is too long or a read that fails.
  bool Next();

  /// Fields of the row; valid until the next call of Next().
  const std::vector<std::string_view>& fields() const { return fields_; }
  /// Number of the row's line in the file, from 1.
  int line() const { return lines_.line(); }
  /// `file:line`, the start of a message.
  std::string Place() const { return lines_.Place(); }

 private:
  void Split(std::string_view line);

  TextLines lines_;
  std::vector<std::string_view> fields_;
};

/// A column as named in a header, e.g. `x_mm`: `column` says which of the known
/// ones it is.
struct CsvColumn {
  int column = 0;
  double scale = 1.0;   ///< from the column's unit to mm, mm/s, rad, ...
};

/// A name that a header may hold.
struct KnownColumn {
  std::string_view name;
  int column = 0;
  double scale = 1.0;
};

/// Reads the header row: the next row of `rows`.
/// @returns one entry a column, in file order.
/// @throws InputError for an empty file, a column that is not in `known`
/// (suggesting the nearest) or one that is given twice.
std::vector<CsvColumn> ReadHeader(CsvRows& rows, const std::vector<KnownColumn>& known);

/// @returns the number in `field`, scaled. @throws InputError naming place,
/// column and value unless it is a finite number.
double NumberIn(const CsvRows& rows, std::string_view column, std::string_view field);

/// @throws InputError unless the row has `count` fields.
void RequireFieldCount(const CsvRows& rows, std::size_t count);

}  // namespace aircut::sim
