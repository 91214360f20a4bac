#include "sim/waiver.h"

#include <algorithm>
#include <array>

namespace aircut::sim {
namespace {

// Source: design, section 1: clash and contact.
constexpr std::array<std::string_view, 4> kNeverWaived = {"clash", "rapid-contact", "stopped-contact", "body-contact"};

bool IsDigit(char c) { return c >= '0' && c <= '9'; }

int DaysIn(int year, int month) {
  constexpr std::array<int, 12> kDays = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
  return kDays[static_cast<std::size_t>(month - 1)] + (month == 2 && leap ? 1 : 0);
}

}  // namespace

std::optional<Day> DayOf(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
  const auto number = [&](std::size_t from, std::size_t count) {
    int value = 0;
    for (std::size_t i = from; i < from + count; ++i) value = IsDigit(text[i]) && value >= 0 ? 10 * value + (text[i] - '0') : -1;
    return value;
  };
  const int year = number(0, 4), month = number(5, 2), day = number(8, 2);
  if (year < 1 || month < 1 || month > 12 || day < 1 || day > DaysIn(year, month)) return std::nullopt;
  return Day{std::string(text)};
}

bool CanBeWaived(std::string_view check) {
  return std::find(kNeverWaived.begin(), kNeverWaived.end(), check) == kNeverWaived.end();
}

}  // namespace aircut::sim
