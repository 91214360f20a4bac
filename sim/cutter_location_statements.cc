#include "sim/cutter_location_statements.h"

#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/text_encoding.h"

namespace aircut::sim {
namespace {

constexpr std::size_t kMaxStatementBytes = std::size_t{1} << 16;

std::string_view Trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t' || text.back() == '\r'))
    text.remove_suffix(1);
  return text;
}

char Capital(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }

bool IsWordCharacter(char c) {
  return (Capital(c) >= 'A' && Capital(c) <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

std::size_t WordLength(std::string_view text) {
  std::size_t length = 0;
  while (length < text.size() && IsWordCharacter(text[length])) ++length;
  return length;
}

bool IsFreeText(std::string_view text) {
  std::string word(text.substr(0, WordLength(text)));
  for (char& c : word) c = Capital(c);
  return word == "PARTNO" || word == "PPRINT" || word == "REMARK";
}

}  // namespace

CutterLocationStatements::CutterLocationStatements(const std::filesystem::path& file)
    : label_(file.string()), lines_(file) {}

std::string CutterLocationStatements::Place() const { return fmt::format("{}:{}", label_, line_); }

void CutterLocationStatements::Fail(const std::string& what) const {
  throw InputError(Place() + ": " + what);
}

// The next line that holds more than blanks and comment.
std::optional<std::string_view> CutterLocationStatements::NextText() {
  while (lines_.Next()) {
    if (lines_.line() == 1) RequirePlainText(lines_.Place(), lines_.text());
    const std::string_view line = lines_.text();
    const std::string_view text = Trimmed(line.substr(0, line.find("$$")));
    if (!text.empty()) return text;
  }
  return std::nullopt;
}

void CutterLocationStatements::Append(std::string_view text) {
  if (joined_.size() + text.size() > kMaxStatementBytes) {
    Fail(fmt::format(
        "the statement is longer than {} bytes: end it, a $ at the end of a line continues it",
        kMaxStatementBytes));
  }
  // A blank where lines meet: a number broken over two lines is no number.
  if (!joined_.empty()) joined_ += ' ';
  for (const char c : text) joined_ += Capital(c);
}

bool CutterLocationStatements::Next() {
  std::optional<std::string_view> text = NextText();
  if (!text) return false;
  line_ = lines_.line();
  joined_.clear();
  if (IsFreeText(*text)) {
    Append(text->substr(0, WordLength(*text)));
    Split();
    return true;
  }
  while (true) {
    const std::size_t dollar = text->find('$');
    if (dollar != std::string_view::npos && dollar + 1 != text->size()) {
      Fail("a single $ has text behind it, must end its line: write $$ before a comment");
    }
    Append(Trimmed(text->substr(0, dollar)));
    if (dollar == std::string_view::npos) break;
    text = NextText();
    if (!text) {
      Fail("the statement is cut off: its last $ says that it goes on, but the file ends there");
    }
  }
  Split();
  return true;
}

void CutterLocationStatements::Split() {
  const std::string_view text = Trimmed(joined_);
  major_ = text.substr(0, WordLength(text));
  if (major_.empty())
    Fail(fmt::format("{:.40} is no statement, must begin with a word such as GOTO: mend the line",
                     text));
  stray_ = Trimmed(text.substr(major_.size()));
  arguments_.clear();
  if (stray_.empty() || stray_.front() != '/') return;
  std::string_view rest = stray_.substr(1);
  stray_ = {};
  while (true) {
    const std::size_t comma = rest.find(',');
    arguments_.push_back(Trimmed(rest.substr(0, comma)));
    if (comma == std::string_view::npos) return;
    rest.remove_prefix(comma + 1);
  }
}

void CutterLocationStatements::RequireWhole() const {
  if (stray_.empty()) return;
  Fail(fmt::format(
      "{} is followed by {:.40}, must be alone or followed by a slash: write one statement a line",
      major_, stray_));
}

double CutterLocationStatements::Number(std::size_t index) const {
  const std::string_view field = arguments_[index];
  std::string_view digits = field;
  if (digits.size() > 1 && digits.front() == '+' && digits[1] != '-') digits.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc() || end != digits.data() + digits.size() || !std::isfinite(value)) {
    Fail(fmt::format("{}: argument {} = {:.60} must be a finite number: mend the value", major_,
                     index + 1, field.empty() ? std::string_view("(empty)") : field));
  }
  return value;
}

void CutterLocationStatements::RequireCount(std::size_t count, std::string_view form) const {
  if (arguments_.size() == count) return;
  Fail(
      fmt::format("{} has {} arguments, must have {} as in {}: mend the statement (decimals need a "
                  "point, 1.5 and "
                  "not 1,5)",
                  major_, arguments_.size(), count, form));
}

}  // namespace aircut::sim
