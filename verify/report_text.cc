#include "verify/report_text.h"

#include <cmath>

#include <fmt/format.h>

namespace aircut::verify {
namespace {

// A value that is no number, and one without end.
const char* WordForOdd(double value) { return std::isnan(value) ? "–" : value < 0 ? "−∞" : "∞"; }

constexpr const char* kMinus = "−";
constexpr int kMostDecimals = 4;

std::string Separated(const std::string& digits) {
  const std::size_t whole = digits.find('.') == std::string::npos ? digits.size() : digits.find('.');
  std::string text;
  for (std::size_t i = 0; i < digits.size(); ++i) {
    if (i > 0 && i < whole && (whole - i) % 3 == 0) text += ',';
    text += digits[i];
  }
  return text;
}

bool IsZero(const std::string& digits) { return digits.find_first_of("123456789") == std::string::npos; }

}  // namespace

std::string Escaped(const std::string& text) {
  std::string safe;
  safe.reserve(text.size());
  for (const char c : text) {
    switch (c) {
      case '&': safe += "&amp;"; break;
      case '<': safe += "&lt;"; break;
      case '>': safe += "&gt;"; break;
      case '"': safe += "&quot;"; break;
      case '\'': safe += "&#39;"; break;
      default: {
        const bool control = static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t';
        safe += control ? '?' : c;
      }
    }
  }
  return safe;
}

std::string Number(double value, int decimals) {
  if (!std::isfinite(value)) return WordForOdd(value);
  const std::string digits = fmt::format("{:.{}f}", std::abs(value), decimals);
  return (value < 0 && !IsZero(digits) ? kMinus : "") + Separated(digits);
}

std::string Plain(double value) {
  if (!std::isfinite(value)) return WordForOdd(value);
  const double size = std::abs(value);
  const int whole_digits = size < 1 ? 1 : 1 + static_cast<int>(std::floor(std::log10(size)));
  const int decimals = whole_digits >= 4 ? 0 : 4 - whole_digits;
  std::string text = Number(value, decimals);
  if (decimals == 0) return text;
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text;
}

int DecimalsFor(double bound) {
  if (!(bound > 0)) return 3;
  const double decimals = std::ceil(-std::log10(bound) - 1e-9);
  return decimals < 0 ? 0 : decimals > kMostDecimals ? kMostDecimals : static_cast<int>(decimals);
}

std::string BoundText(double bound) {
  if (!std::isfinite(bound)) return WordForOdd(bound);
  const int decimals = DecimalsFor(bound);
  const double step = std::pow(10.0, decimals);
  return Number(std::ceil(bound * step - 1e-9) / step, decimals);
}

std::string UnitText(const std::string& unit) {
  if (unit.empty() || unit == "1") return "";
  if (unit == "deg" || unit == "°") return "°";
  if (unit == "mm2") return "\u00a0mm²";
  if (unit == "mm3") return "\u00a0mm³";
  return "\u00a0" + Escaped(unit);
}

std::string Measured(const std::optional<double>& value, const std::optional<double>& bound,
                     const std::string& unit) {
  if (!value) return "–";
  if (!std::isfinite(*value) || !bound || !(*bound > 0)) return Plain(*value) + UnitText(unit);
  return Number(*value, DecimalsFor(*bound)) + " ± " + BoundText(*bound) + UnitText(unit);
}

std::string Percent(double share) {
  if (!std::isfinite(share)) return "–";
  const double percent = 100.0 * share;
  const bool fine = percent > 90.0 && percent < 100.0;
  const double shown = fine ? std::floor(percent * 10.0) / 10.0 : std::floor(percent + 1e-9);
  return Number(shown, fine ? 1 : 0) + "\u00a0%";
}

std::string ClockText(double seconds) {
  if (!std::isfinite(seconds) || seconds < 0 || seconds > 1e8) return "–";
  const long long whole = std::llround(seconds);
  const long long hours = whole / 3600, minutes = whole / 60 % 60, rest = whole % 60;
  if (hours > 0) return fmt::format("{}:{:02}:{:02}", hours, minutes, rest);
  return fmt::format("{}:{:02}", minutes, rest);
}

std::string ShapeOf(Result result, int size_px) {
  const char* drawing = "";
  switch (result) {
    case Result::kFail:
      drawing = R"(<rect class="alarm" x="1" y="1" width="12" height="12"/>)";
      break;
    case Result::kUnproven:
      drawing = R"(<path class="line" d="M7 .8 13.2 7 7 13.2 .8 7Z"/>)"
                R"(<path class="ink" d="M7 .8V13.2L.8 7Z"/>)";
      break;
    case Result::kPass:
      drawing = R"(<circle class="line" cx="7" cy="7" r="5.6"/>)";
      break;
  }
  return fmt::format(R"(<svg class="sh" width="{0}" height="{0}" viewBox="0 0 14 14" )"
                     R"(role="img" aria-label="{1}">{2}</svg>)",
                     size_px, WordFor(result), drawing);
}

std::string Base64(const std::vector<unsigned char>& bytes) {
  constexpr char kDigits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  text.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const std::size_t left = bytes.size() - i;
    const unsigned b0 = bytes[i], b1 = left > 1 ? bytes[i + 1] : 0, b2 = left > 2 ? bytes[i + 2] : 0;
    const unsigned word = b0 << 16 | b1 << 8 | b2;
    text += kDigits[word >> 18];
    text += kDigits[word >> 12 & 63];
    text += left > 1 ? kDigits[word >> 6 & 63] : '=';
    text += left > 2 ? kDigits[word & 63] : '=';
  }
  return text;
}

}  // namespace aircut::verify
