#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace aircut::sim {

/// A day of the calendar. ISO 8601, "2026-12-31": days compare as their texts do.
struct Day {
  std::string iso;
  bool operator<(const Day& other) const { return iso < other.iso; }
};

/// @returns the day of a text YYYY-MM-DD; nothing unless there is such a day.
std::optional<Day> DayOf(std::string_view text);

/// A signed line: someone answers for a check that does not pass.
struct Waiver {
  std::string check;      ///< id
  std::string who, why;
  Day until;              ///< the last day on which it counts
  int line = 0;           ///< in its file
};

/// Checks that nobody can answer for: something touches that must not.
bool CanBeWaived(std::string_view check);

}  // namespace aircut::sim
