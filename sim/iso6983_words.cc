#include "sim/iso6983_words.h"

#include <algorithm>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "sim/path_fault.h"

namespace aircut::sim {
namespace {

enum class Use {
  kRead,       // understood
  kPassable,   // refused, but for a job that lists it
  kRefused     // refused always: passing over it would move the path
};

struct CodeRule {
  char letter = 0;
  int tenths = 0;
  IsoGroup group = IsoGroup::kMotion;
  Use use = Use::kRead;
  const char* text = "";   // meaning of a word that is read, else why not and how to mend
};

constexpr const char* kCycle = "is a canned cycle, which differs between controls: write its moves out";
constexpr const char* kRadiusOffset = "offsets the path by a cutter radius that the control holds: write the path of the "
                                      "cutter's centre with G40";
constexpr const char* kMachineZero = "moves by coordinates that the control holds: write the target in path coordinates";
constexpr const char* kShift = "moves the path's zero by values of the control: use G54 to G59 with path.work_offsets";
constexpr const char* kSmoothing = "lets the control round corners: say so under controller.corner in the cell and list "
                                   "the word under path.ignore_words";
constexpr const char* kScaling = "turns, scales or mirrors the path inside the control: write the path out";
constexpr const char* kThread = "couples the feed to the spindle's angle, which is not computed: write G01";
constexpr const char* kCurve = "is a curve that is not computed: write short G01 moves";
constexpr const char* kSubprogram = "calls or ends a subprogram: write its moves out";

// Sources: ISO 6983-1:2009, tables of G and M words, as read in published lists of
// them; dialect with G20, G21, G43 and H, and G80: NISTIR 6556 (2000), section 3.
const std::vector<CodeRule>& CodeRules() {
  using G = IsoGroup;
  static const std::vector<CodeRule> rules = [] {
    std::vector<CodeRule> r = {
        {'G', 0, G::kMotion, Use::kRead, "rapid move in a straight line"},
        {'G', 10, G::kMotion, Use::kRead, "straight move at the feed"},
        {'G', 20, G::kMotion, Use::kRead, "circular or helical move, clockwise seen against the third axis"},
        {'G', 30, G::kMotion, Use::kRead, "circular or helical move, counterclockwise seen against the third axis"},
        {'G', 40, G::kDwell, Use::kRead, "dwell; P or X is the time in seconds, at most 60"},
        {'G', 170, G::kPlane, Use::kRead, "plane of arcs XY, third axis Z"},
        {'G', 180, G::kPlane, Use::kRead, "plane of arcs ZX, third axis Y"},
        {'G', 190, G::kPlane, Use::kRead, "plane of arcs YZ, third axis X"},
        {'G', 200, G::kUnits, Use::kRead, "lengths in inches, as G70"},
        {'G', 210, G::kUnits, Use::kRead, "lengths in millimetres, as G71"},
        {'G', 400, G::kRadius, Use::kRead, "no cutter-radius offset"},
        {'G', 430, G::kLength, Use::kRead, "length offset of number H, added; its value from path.length_offsets"},
        {'G', 440, G::kLength, Use::kRead, "length offset of number H, subtracted"},
        {'G', 490, G::kLength, Use::kRead, "no length offset"},
        {'G', 540, G::kWorkOffset, Use::kRead, "work offset 54; its value from path.work_offsets"},
        {'G', 550, G::kWorkOffset, Use::kRead, "work offset 55"},
        {'G', 560, G::kWorkOffset, Use::kRead, "work offset 56"},
        {'G', 570, G::kWorkOffset, Use::kRead, "work offset 57"},
        {'G', 580, G::kWorkOffset, Use::kRead, "work offset 58"},
        {'G', 590, G::kWorkOffset, Use::kRead, "work offset 59"},
        {'G', 700, G::kUnits, Use::kRead, "lengths in inches"},
        {'G', 710, G::kUnits, Use::kRead, "lengths in millimetres"},
        {'G', 800, G::kMotion, Use::kRead, "no move in force until the next G00 to G03"},
        {'G', 900, G::kDistance, Use::kRead, "coordinates from the path's zero"},
        {'G', 910, G::kDistance, Use::kRead, "coordinates from the last point"},
        {'G', 930, G::kFeedMode, Use::kRead, "inverse time: F is 1/min, a move takes 1/F minutes"},
        {'G', 940, G::kFeedMode, Use::kRead, "F is the feed a minute"},
        {'G', 950, G::kFeedMode, Use::kRead, "F is the feed a turn of the spindle"},
        {'G', 970, G::kSpeedMode, Use::kRead, "S is the spindle speed in turns a minute"},
        {'M', 0, G::kProgram, Use::kRead, "the program waits for a person"},
        {'M', 10, G::kProgram, Use::kRead, "the program waits if the optional stop is switched on"},
        {'M', 20, G::kProgram, Use::kRead, "end of the program"},
        {'M', 30, G::kSpindle, Use::kRead, "spindle on, clockwise seen from the spindle, at S"},
        {'M', 40, G::kSpindle, Use::kRead, "spindle on, counterclockwise, at S"},
        {'M', 50, G::kSpindle, Use::kRead, "spindle off"},
        {'M', 60, G::kToolChange, Use::kRead, "tool change to the last T; the spindle stops"},
        {'M', 70, G::kCoolant, Use::kRead, "coolant on (mist)"},
        {'M', 80, G::kCoolant, Use::kRead, "coolant on (flood)"},
        {'M', 90, G::kCoolant, Use::kRead, "coolant off"},
        {'M', 300, G::kProgram, Use::kRead, "end of the program and back to its start"},
        {'G', 410, G::kRadius, Use::kRefused, kRadiusOffset},
        {'G', 420, G::kRadius, Use::kRefused, kRadiusOffset},
        {'G', 530, G::kMotion, Use::kRefused, kMachineZero},
        {'G', 280, G::kMotion, Use::kRefused, kMachineZero},
        {'G', 300, G::kMotion, Use::kRefused, kMachineZero},
        {'G', 901, G::kMotion, Use::kRefused, "gives arc centres from the path's zero: write I J K from the arc's start"},
        {'G', 960, G::kMotion, Use::kRefused, "holds the cutting speed by the control: write G97 and S in turns a minute"},
        {'G', 600, G::kMotion, Use::kPassable, kSmoothing},
        {'G', 610, G::kMotion, Use::kPassable, kSmoothing},
        {'G', 640, G::kMotion, Use::kPassable, kSmoothing}};
    for (const int g : {10, 52, 92}) r.push_back({'G', 10 * g, G::kMotion, Use::kRefused, kShift});
    for (const int g : {921, 922, 923}) r.push_back({'G', g, G::kMotion, Use::kRefused, kShift});
    for (const int g : {15, 16, 50, 51, 68, 69}) r.push_back({'G', 10 * g, G::kMotion, Use::kRefused, kScaling});
    for (const int g : {33, 34, 35, 63, 84, 76}) r.push_back({'G', 10 * g, G::kMotion, Use::kRefused, kThread});
    for (const int g : {5, 6, 12, 13}) r.push_back({'G', 10 * g, G::kMotion, Use::kRefused, kCurve});
    for (const int g : {73, 74, 81, 82, 83, 85, 86, 87, 88, 89}) {
      r.push_back({'G', 10 * g, G::kMotion, Use::kRefused, kCycle});
    }
    for (const int g : {65, 66, 67}) r.push_back({'G', 10 * g, G::kMotion, Use::kRefused, kSubprogram});
    for (const int m : {97, 98, 99}) r.push_back({'M', 10 * m, G::kMotion, Use::kRefused, kSubprogram});
    return r;
  }();
  return rules;
}

constexpr int kCodeNumbers = 1000;

// One entry a tenth, so that a word is found without a search.
const CodeRule* FindCode(char letter, int tenths) {
  using Table = std::array<const CodeRule*, kCodeNumbers>;
  static const std::array<Table, 2> tables = [] {
    std::array<Table, 2> t{};
    for (const CodeRule& rule : CodeRules()) t[rule.letter == 'M'][static_cast<std::size_t>(rule.tenths)] = &rule;
    return t;
  }();
  if (tenths < 0 || tenths >= kCodeNumbers) return nullptr;
  return tables[letter == 'M'][static_cast<std::size_t>(tenths)];
}

constexpr std::string_view kLetters = "NGMXYZABCIJKRFSTDHP";

std::uint32_t MaskOf(std::string_view letters) {
  std::uint32_t mask = 0;
  for (const char c : letters) mask |= std::uint32_t{1} << (c - 'A');
  return mask;
}
const std::uint32_t kKnownLetters = MaskOf(kLetters);

bool IsLetter(char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z'); }
bool IsDigit(char c) { return c >= '0' && c <= '9'; }
char Upper(char c) { return c >= 'a' ? static_cast<char>(c - 'a' + 'A') : c; }

// A G or M number in tenths; nothing if it has more decimals or is negative.
int TenthsOf(char letter, double number) {
  const double tenths = std::round(10 * number);
  if (!(tenths >= 0 && tenths < 1e6 && std::abs(10 * number - tenths) < 1e-6)) {
    throw PathFault(fmt::format("{}{} is not known: a {} word has a number such as {}01", letter, number, letter, letter));
  }
  return static_cast<int>(tenths);
}

[[noreturn]] void FailRefused(const CodeRule& rule) {
  throw PathFault(fmt::format("{} {}", IsoCodeName(rule.letter, rule.tenths), rule.text));
}

constexpr std::array<double, 19> kPowersOfTen = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8, 1e9,
                                                 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18};

}  // namespace

const std::vector<Iso6983Word>& Iso6983Words() {
  static const std::vector<Iso6983Word> words = [] {
    std::vector<Iso6983Word> list = {
        {"%", "start and end of the file"},
        {"( )", "comment, closed on its line"},
        {";", "comment to the end of the line"},
        {"N", "number of the block, not used"},
        {"X", "coordinate along X; with G04 a time in seconds"},
        {"Y", "coordinate along Y"},
        {"Z", "coordinate along Z"},
        {"A", "turn about X in degrees, by path.rotary"},
        {"B", "turn about Y in degrees, by path.rotary"},
        {"C", "turn about Z in degrees, by path.rotary"},
        {"I", "from the arc's start to its centre along X; in straight moves the tool axis, if path.rotary says vector words"},
        {"J", "as I, along Y"},
        {"K", "as I, along Z"},
        {"R", "radius of an arc; negative for the longer way round"},
        {"F", "feed, by G93, G94 or G95"},
        {"S", "spindle speed in turns a minute"},
        {"T", "number of the next cutter; M06 puts it in"},
        {"D", "number of a cutter-radius offset, without effect as G41 and G42 are refused"},
        {"H", "number of the length offset, with G43 or G44"},
        {"P", "time of G04 in seconds"}};
    for (const CodeRule& rule : CodeRules()) {
      if (rule.use == Use::kRead) list.push_back({IsoCodeName(rule.letter, rule.tenths), rule.text});
    }
    return list;
  }();
  return words;
}

std::string IsoCodeName(char letter, int tenths) {
  if (tenths % 10 == 0) return fmt::format("{}{:02}", letter, tenths / 10);
  return fmt::format("{}{:02}.{}", letter, tenths / 10, tenths % 10);
}

bool IsoBlock::HasAny(std::string_view letters) const {
  for (const char c : letters) {
    if (Has(c)) return true;
  }
  return false;
}

IsoBlockReader::IsoBlockReader(const std::vector<std::string>& ignore_words) {
  for (const std::string& word : ignore_words) {
    if (word == "/") {
      ignores_slash_ = true;
      continue;
    }
    const char letter = word.empty() ? ' ' : Upper(word.front());
    double number = 0;
    const auto [end, error] = std::from_chars(word.data() + 1, word.data() + word.size(), number, std::chars_format::fixed);
    const bool is_code = (letter == 'G' || letter == 'M') && error == std::errc() && end == word.data() + word.size();
    if (is_code) {
      const int tenths = TenthsOf(letter, number);
      const CodeRule* rule = FindCode(letter, tenths);
      if (rule != nullptr && rule->use == Use::kRefused) FailRefused(*rule);
      if (rule != nullptr && rule->use == Use::kRead) {
        throw PathFault(fmt::format("{} is understood and cannot be passed over: take it out of the list", word));
      }
      (letter == 'G' ? ignored_g_tenths_ : ignored_m_tenths_).push_back(tenths);
    } else if (word.size() == 1 && IsLetter(word.front()) && (kKnownLetters & IsoBlock::Bit(letter)) == 0) {
      ignored_letters_ |= IsoBlock::Bit(letter);
    } else {
      throw PathFault(fmt::format("{:.40} must be an address letter that is not understood (Q), a G or M word (G64) "
                                  "or /: mend the list",
                                  word.empty() ? "(empty)" : word));
    }
  }
}

void IsoBlockReader::SkipBlanks() {
  while (at_ != end_ && (*at_ == ' ' || *at_ == '\t')) ++at_;
}

const IsoBlock& IsoBlockReader::Read(std::string_view line) {
  at_ = line.data();
  end_ = at_ + line.size();
  block_.mask_ = 0;
  block_.is_percent_ = false;
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
  if (std::find(ignored.begin(), ignored.end(), tenths) != ignored.end()) return;
  const CodeRule* rule = FindCode(letter, tenths);
  if (rule == nullptr) {
    throw PathFault(fmt::format("word {0} is not understood: take it out, or list {0} under path.ignore_words if it "
                                "changes neither path nor spindle",
                                IsoCodeName(letter, tenths)));
  }
  if (rule->use != Use::kRead) FailRefused(*rule);
  IsoCode& place = block_.codes_[static_cast<std::size_t>(rule->group)];
  if (place.letter != 0) {
    const std::string before = IsoCodeName(place.letter, 10 * place.number), now = IsoCodeName(letter, tenths);
    if (before == now) throw PathFault(fmt::format("{} is given twice in one block: keep one", now));
    throw PathFault(fmt::format("{} and {} exclude one another in one block: keep the one that is meant", before, now));
  }
  place = {letter, tenths / 10};
  block_.has_code_ = true;
}

}  // namespace aircut::sim
