#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include "sim/csv_rows.h"

namespace aircut::sim {

/// A table whose columns are found by number, whatever their order in the file.
/// Every getter throws InputError with place, column, value and mend.
class NamedTable {
 public:
  /// Reads the header. @param known must outlive the table; columns that share a
  /// number are the same column in different units.
  NamedTable(const std::filesystem::path& file, const std::vector<KnownColumn>& known);

  /// Steps to the next row. @returns false at the end.
  bool Next();

  bool Has(int column) const { return Place(column) >= 0; }
  /// @throws InputError naming the first of the columns low..high that is missing.
  void Require(int low, int high) const;
  /// Refuses a group whose columns do not share one unit.
  void RequireOneUnit(int low, int high) const;

  /// The number in inside units; bounded so that no sum of a few can overflow.
  double Value(int column) const;
  Eigen::Vector3d Point(int first_column) const;
  /// As written, without blanks around it.
  std::string_view Text(int column) const;
  double Scale(int column) const;
  /// Name of the column in this file's header, or the first known one.
  std::string_view Name(int column) const;

  int line() const { return rows_.line(); }
  [[noreturn]] void Fail(const std::string& what) const;
  /// The same of a line that was read before.
  [[noreturn]] void FailAt(int line, const std::string& what) const;

 private:
  int Place(int column) const;

  std::string label_;
  CsvRows rows_;
  const std::vector<KnownColumn>& known_;
  std::vector<CsvColumn> columns_;
};

}  // namespace aircut::sim
