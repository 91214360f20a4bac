#include "sim/iso6983_words.h"

#include <algorithm>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "sim/path_fault.h"

namespace aircut::sim {
namespace {

constexpr std::string_view kLetters = "NGMXYZABCIJKRFSTDHP";

constexpr std::uint32_t MaskOf(std::string_view letters) {
  std::uint32_t mask = 0;
  for (const char c : letters) mask |= std::uint32_t{1} << (c - 'A');
  return mask;
}
constexpr std::uint32_t kKnownLetters = MaskOf(kLetters);

bool IsLetter(char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z'); }
bool IsDigit(char c) { return c >= '0' && c <= '9'; }
char Upper(char c) { return c >= 'a' ? static_cast<char>(c - 'a' + 'A') : c; }

// A G or M number in tenths; a fault if it has more decimals or is negative.
int TenthsOf(char letter, double number) {
  const double tenths = std::round(10 * number);
  if (!(tenths >= 0 && tenths < 1e6 && std::abs(10 * number - tenths) < 1e-6)) {
    throw PathFault(fmt::format("{}{} is not known: a {} word has a number such as {}01", letter, number, letter, letter));
  }
  return static_cast<int>(tenths);
}

[[noreturn]] void FailRefused(const IsoCodeRule& rule) {
  throw PathFault(fmt::format("{} {}", IsoCodeName(rule.letter, rule.tenths), rule.text));
}

constexpr std::array<double, 19> kPowersOfTen = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8, 1e9,
                                                 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18};

}  // namespace

bool IsoBlock::HasAny(std::string_view letters) const {
  for (const char c : letters) {
    if (Has(c)) return true;
  }
  return false;
}

IsoBlockReader::IsoBlockReader(const std::vector<std::string>& ignore_words) {
  for (const std::string& word : ignore_words) Ignore(word);
}

void IsoBlockReader::Ignore(const std::string& word) {
  const char letter = word.empty() ? ' ' : Upper(word.front());
  if (word == "/") {
    ignores_slash_ = true;
  } else if (word.size() == 1 && IsLetter(letter) && (kKnownLetters & IsoBlock::Bit(letter)) == 0) {
    ignored_letters_ |= IsoBlock::Bit(letter);
  } else if ((letter == 'G' || letter == 'M') && word.size() > 1) {
    IgnoreCode(letter, word);
  } else {
    throw PathFault(fmt::format("{:.40} must be an address letter that is not understood (Q), a G or M word (G64) "
                                "or /: mend the list",
                                word.empty() ? "(empty)" : word));
  }
}

void IsoBlockReader::IgnoreCode(char letter, const std::string& word) {
  double number = 0;
  const char* end = word.data() + word.size();
  const auto [stop, error] = std::from_chars(word.data() + 1, end, number, std::chars_format::fixed);
  if (error != std::errc() || stop != end) {
    throw PathFault(fmt::format("{:.40} must be a letter and a number, such as G64: mend the list", word));
  }
  const int tenths = TenthsOf(letter, number);
  const IsoCodeRule* rule = FindIsoCode(letter, tenths);
  if (rule != nullptr && rule->use == IsoUse::kRefused) FailRefused(*rule);
  if (rule != nullptr && rule->use == IsoUse::kRead) {
    throw PathFault(fmt::format("{} is understood and cannot be passed over: take it out of the list", word));
  }
  (letter == 'G' ? ignored_g_tenths_ : ignored_m_tenths_).push_back(tenths);
}

void IsoBlockReader::SkipBlanks() {
  while (at_ != end_ && (*at_ == ' ' || *at_ == '\t')) ++at_;
}

const IsoBlock& IsoBlockReader::Read(std::string_view line) {
  at_ = line.data();
  end_ = at_ + line.size();
  block_.mask_ = 0;
  block_.is_percent_ = false;
  block_.has_passed_over_ = false;
  if (block_.has_code_) block_.codes_.fill({});
  block_.has_code_ = false;
  while (true) {
    SkipBlanks();
    if (at_ == end_ || *at_ == ';') return block_;
    const char c = *at_;
    if (IsLetter(c) && !block_.is_percent_) {
      ++at_;
      Word(Upper(c));
    } else if (c == '(') {
      Comment();
    } else {
      Sign(c);
    }
  }
}

void IsoBlockReader::Comment() {
  for (++at_; at_ != end_; ++at_) {
    if (*at_ == '(') throw PathFault("a comment is opened inside a comment: take the inner bracket out");
    if (*at_ == ')') {
      ++at_;
      return;
    }
  }
  throw PathFault("a comment is not closed: ) must stand on the same line");
}

void IsoBlockReader::Sign(char sign) {
  if (sign == '%' && block_.is_empty()) {
    block_.is_percent_ = true;
    ++at_;
    return;
  }
  if (block_.is_percent_ || sign == '%') throw PathFault("% must stand alone on its line: move the rest to another line");
  if (sign == '/') {
    if (ignores_slash_ && block_.is_empty()) {
      ++at_;
      return;
    }
    throw PathFault("/ makes the block depend on a switch at the panel: take the block out, or list / under "
                    "path.ignore_words to have it always run");
  }
  if (sign < ' ' || sign > '~') {
    throw PathFault(fmt::format("byte {:#04x} is no character of a path: outside comments it must be plain ASCII text; "
                                "check that this is the right file",
                                static_cast<unsigned char>(sign)));
  }
  const char* stop = at_;
  while (stop != end_ && *stop > ' ' && *stop <= '~' && !IsLetter(*stop) && stop - at_ < 20) ++stop;
  throw PathFault(fmt::format("{} has no address letter: every word must be a letter and a number, such as X1.5",
                              std::string_view(at_, static_cast<std::size_t>(std::max<std::ptrdiff_t>(1, stop - at_)))));
}

double IsoBlockReader::Number(char letter) {
  SkipBlanks();
  const char* start = at_;
  const bool is_negative = at_ != end_ && *at_ == '-';
  if (at_ != end_ && (*at_ == '-' || *at_ == '+')) ++at_;
  const char* digits = at_;
  std::uint64_t mantissa = 0;
  while (at_ != end_ && IsDigit(*at_)) mantissa = 10 * mantissa + static_cast<std::uint64_t>(*at_++ - '0');
  std::ptrdiff_t count = at_ - digits, decimals = 0;
  if (at_ != end_ && *at_ == '.') {
    const char* point = at_++;
    while (at_ != end_ && IsDigit(*at_)) mantissa = 10 * mantissa + static_cast<std::uint64_t>(*at_++ - '0');
    decimals = at_ - point - 1;
    count += decimals;
  }
  const std::string_view text(start, static_cast<std::size_t>(at_ - start));
  if (at_ != end_ && *at_ == ',') {
    throw PathFault(fmt::format("{}{:.40},: a number must have a decimal point, not a comma: write the file anew with points",
                                letter, text));
  }
  if (count == 0) {
    throw PathFault(fmt::format("{} has no number: the word is cut off or its number is not written out", letter));
  }
  // Both factors are exact up to 15 digits, so one division rounds correctly.
  double value = static_cast<double>(mantissa) / kPowersOfTen[static_cast<std::size_t>(std::min<std::ptrdiff_t>(decimals, 18))];
  if (count > 15) {
    const auto [end, error] = std::from_chars(digits, at_, value, std::chars_format::fixed);
    if (error != std::errc() || end != at_) {
      throw PathFault(fmt::format("{} = {:.60} must be a finite number: mend the value", letter, text));
    }
  }
  return is_negative ? -value : value;
}

void IsoBlockReader::Word(char letter) {
  const std::uint32_t bit = IsoBlock::Bit(letter);
  const double number = Number(letter);
  if ((ignored_letters_ & bit) != 0) return;
  if (letter == 'G' || letter == 'M') return Code(letter, number);
  if ((kKnownLetters & bit) == 0) {
    throw PathFault(fmt::format("word {}{} is not understood: take it out, or list {} under path.ignore_words if it "
                                "changes neither path nor spindle",
                                letter, number, letter));
  }
  if ((block_.mask_ & bit) != 0) {
    throw PathFault(fmt::format("{} is given twice in one block: keep the one that is meant", letter));
  }
  block_.mask_ |= bit;
  block_.values_[static_cast<std::size_t>(letter - 'A')] = number;
}

void IsoBlockReader::Code(char letter, double number) {
  const int tenths = TenthsOf(letter, number);
  const std::vector<int>& ignored = letter == 'G' ? ignored_g_tenths_ : ignored_m_tenths_;
  if (std::find(ignored.begin(), ignored.end(), tenths) != ignored.end()) {
    block_.has_passed_over_ = true;
    return;
  }
  const IsoCodeRule* rule = FindIsoCode(letter, tenths);
  if (rule == nullptr) {
    throw PathFault(fmt::format("word {0} is not understood: take it out, or list {0} under path.ignore_words if it "
                                "changes neither path nor spindle",
                                IsoCodeName(letter, tenths)));
  }
  if (rule->use != IsoUse::kRead) FailRefused(*rule);
  IsoCode& place = block_.codes_[static_cast<std::size_t>(rule->group)];
  if (place.letter != 0) {
    const std::string before = IsoCodeName(place.letter, place.tenths), now = IsoCodeName(letter, tenths);
    if (before == now) throw PathFault(fmt::format("{} is given twice in one block: keep one", now));
    throw PathFault(fmt::format("{} and {} exclude one another in one block: keep the one that is meant", before, now));
  }
  place = {letter, tenths / 10, tenths};
  block_.has_code_ = true;
}

}  // namespace aircut::sim
