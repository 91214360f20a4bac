#include "verify/words.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace aircut::verify {
namespace {

// Thousands separators in the digits before the point.
std::string Separated(std::string digits) {
  const std::size_t point = std::min(digits.find('.'), digits.size());
  const std::size_t first = digits[0] == '-' ? 1 : 0;
  for (std::size_t at = point; at > first + 3;) {
    at -= 3;
    digits.insert(at, ",");
  }
  return digits;
}

// Fixed decimals without a minus in front of a rounded zero.
std::string Fixed(double value, int decimals) {
  if (!std::isfinite(value)) return "unknown";
  const double half_step = 0.5 * std::pow(10.0, -decimals);
  return Separated(fmt::format("{:.{}f}", std::abs(value) < half_step ? 0.0 : value, decimals));
}

}  // namespace

std::string Count(std::int64_t count) { return Separated(fmt::format("{}", count)); }

std::string Millimetres(double length_mm) {
  const double size = std::abs(length_mm);
  const int decimals = size < 9.995 ? 2 : size < 999.95 ? 1 : 0;
  return Fixed(length_mm, decimals) + " mm";
}

std::string SquareMillimetres(double area_mm2) {
  return Fixed(area_mm2, area_mm2 < 9.95 ? 1 : 0) + " mm²";
}

std::string Place(const Eigen::Vector3d& p_mm) {
  return fmt::format("({}, {}, {}) mm", Fixed(p_mm.x(), 1), Fixed(p_mm.y(), 1),
                     Fixed(p_mm.z(), 1));
}

std::string Clock(double time_s) {
  if (!std::isfinite(time_s)) return "unknown";
  const std::int64_t whole_s = std::llround(time_s);
  return fmt::format("{}:{:02}", whole_s / 60, whole_s % 60);
}

std::string Lines(int first, int last) {
  if (first <= 0 && last <= 0) return "no path line";
  if (first == last || first <= 0 || last <= 0) return "line " + Count(first > 0 ? first : last);
  return "lines " + Count(first) + " to " + Count(last);
}

std::string List(const std::vector<std::string>& names, std::size_t most) {
  const std::size_t shown = names.size() > most ? most : names.size();
  const std::size_t rest = names.size() - shown;
  std::string text;
  for (std::size_t i = 0; i < shown; ++i) {
    const bool last = i + 1 == shown && rest == 0;
    if (i > 0) text += last ? " and " : ", ";
    text += names[i];
  }
  if (rest > 0) text += (shown > 0 ? " and " : "") + Count(static_cast<std::int64_t>(rest)) + " more";
  return text;
}

std::string Plural(std::int64_t count, const std::string& noun) {
  return Count(count) + " " + noun + (count == 1 ? "" : "s");
}

}  // namespace aircut::verify
