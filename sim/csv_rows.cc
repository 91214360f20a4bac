#include "sim/csv_rows.h"

#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/nearest_word.h"
#include "sim/text_encoding.h"

namespace aircut::sim {
namespace {

std::string_view Trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t' || text.back() == '\r')) {
    text.remove_suffix(1);
  }
  return text;
}

}  // namespace

CsvRows::CsvRows(const std::filesystem::path& file) : lines_(file) {}

bool CsvRows::Next() {
  while (lines_.Next()) {
    if (lines_.line() == 1) RequirePlainText(Place(), lines_.text());
    const std::string_view line = Trimmed(lines_.text());
    if (line.empty() || line.front() == '#') continue;
    Split(line);
    return true;
  }
  return false;
}

void CsvRows::Split(std::string_view line) {
  fields_.clear();
  while (true) {
    const std::size_t comma = line.find(',');
    fields_.push_back(Trimmed(line.substr(0, comma)));
    if (comma == std::string_view::npos) return;
    line.remove_prefix(comma + 1);
  }
}

namespace {

// A column without its unit is the commonest slip: `x` for x_mm.
std::string DidYouMeanColumn(std::string_view field, const std::vector<KnownColumn>& known) {
  std::vector<std::string> names;
  for (const KnownColumn& candidate : known) {
    const std::string_view name = candidate.name;
    const bool is_with_unit = !field.empty() && name.size() > field.size() && name[field.size()] == '_' &&
                              name.substr(0, field.size()) == field;
    if (is_with_unit) return fmt::format(", did you mean {}?", name);
    names.emplace_back(name);
  }
  return DidYouMean(field, names);
}

}  // namespace

std::vector<CsvColumn> ReadHeader(CsvRows& rows, const std::vector<KnownColumn>& known) {
  if (!rows.Next()) throw InputError(rows.Place() + ": the table is empty: the first line must name its columns");
  std::vector<CsvColumn> columns;
  for (const std::string_view field : rows.fields()) {
    const KnownColumn* found = nullptr;
    for (const KnownColumn& candidate : known) {
      if (candidate.name == field) found = &candidate;
    }
    if (found == nullptr && field.find(';') != std::string_view::npos) {
      throw InputError(rows.Place() + ": the columns are parted by semicolons, must be parted by commas, and "
                                      "decimals need a point: save the table with commas and decimal points");
    }
    if (found == nullptr) {
      throw InputError(fmt::format("{}: column {:.60} is not known{}: the header must name the columns "
                                   "with their units",
                                   rows.Place(), field, DidYouMeanColumn(field, known)));
    }
    for (const CsvColumn& other : columns) {
      if (other.column == found->column) {
        throw InputError(fmt::format("{}: column {} is given twice: leave one out", rows.Place(), field));
      }
    }
    columns.push_back({found->column, found->scale});
  }
  return columns;
}

double NumberIn(const CsvRows& rows, std::string_view column, std::string_view field) {
  std::string_view digits = field;
  if (digits.size() > 1 && digits.front() == '+' && digits[1] != '-') digits.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (field.find(';') != std::string_view::npos) {
    throw InputError(fmt::format("{}: {} = {:.60} holds a semicolon: part the fields by commas and write decimals "
                                 "with a point, 1.5 and not 1,5",
                                 rows.Place(), column, field));
  }
  if (error != std::errc() || end != digits.data() + digits.size() || !std::isfinite(value)) {
    throw InputError(fmt::format("{}: {} = {:.60} must be a finite number: mend the value", rows.Place(),
                                 column, field.empty() ? std::string_view("(empty)") : field));
  }
  return value;
}

void RequireFieldCount(const CsvRows& rows, std::size_t count) {
  if (rows.fields().size() == count) return;
  for (const std::string_view field : rows.fields()) {
    if (field.find(';') == std::string_view::npos) continue;
    throw InputError(fmt::format("{}: {:.60} holds a semicolon: part the fields by commas and write decimals with a "
                                 "point, 1.5 and not 1,5",
                                 rows.Place(), field));
  }
  throw InputError(fmt::format("{}: the line has {} columns, must have {} as the header names: {}",
                               rows.Place(), rows.fields().size(), count,
                               rows.fields().size() < count ? "fill in what is missing"
                                                            : "take out what is too much; decimals need a "
                                                              "point, 1.5 and not 1,5"));
}

}  // namespace aircut::sim
