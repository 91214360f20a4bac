#include "sim/named_table.h"

#include <cmath>

#include <fmt/format.h>

#include "sim/input_error.h"

namespace aircut::sim {
namespace {

constexpr double kLargest = 1e6;   // mm, N, deg: nothing in a shop is larger

}  // namespace

NamedTable::NamedTable(const std::filesystem::path& file, const std::vector<KnownColumn>& known)
    : label_(file.string()), rows_(file), known_(known), columns_(ReadHeader(rows_, known)) {}

bool NamedTable::Next() {
  if (!rows_.Next()) return false;
  RequireFieldCount(rows_, columns_.size());
  return true;
}

int NamedTable::Place(int column) const {
  for (std::size_t i = 0; i < columns_.size(); ++i) {
    if (columns_[i].column == column) return static_cast<int>(i);
  }
  return -1;
}

void NamedTable::Require(int low, int high) const {
  for (int column = low; column <= high; ++column) {
    if (!Has(column)) {
      Fail(fmt::format("column {} is missing: the header must name it with its unit", Name(column)));
    }
  }
}

void NamedTable::RequireOneUnit(int low, int high) const {
  for (int column = low + 1; column <= high; ++column) {
    if (Scale(column) != Scale(low)) {
      Fail(fmt::format("{} and {} are in different units: give both in one", Name(low), Name(column)));
    }
  }
}

double NamedTable::Scale(int column) const { return columns_[static_cast<std::size_t>(Place(column))].scale; }

std::string_view NamedTable::Name(int column) const {
  const int place = Place(column);
  for (const KnownColumn& known : known_) {
    if (known.column != column) continue;
    if (place < 0 || known.scale == columns_[static_cast<std::size_t>(place)].scale) return known.name;
  }
  return "";
}

std::string_view NamedTable::Text(int column) const {
  return rows_.fields()[static_cast<std::size_t>(Place(column))];
}

double NamedTable::Value(int column) const {
  const double value = NumberIn(rows_, Name(column), Text(column));
  if (!(std::abs(value) <= kLargest)) {
    Fail(fmt::format("{} = {} must lie within +-{:g}: mend the value", Name(column), Text(column), kLargest));
  }
  return value * Scale(column);
}

Eigen::Vector3d NamedTable::Point(int first_column) const {
  return {Value(first_column), Value(first_column + 1), Value(first_column + 2)};
}

void NamedTable::Fail(const std::string& what) const { throw InputError(rows_.Place() + ": " + what); }

void NamedTable::FailAt(int line, const std::string& what) const {
  throw InputError(fmt::format("{}:{}: {}", label_, line, what));
}

}  // namespace aircut::sim
