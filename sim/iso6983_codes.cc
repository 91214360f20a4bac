#include "sim/iso6983_codes.h"

#include <array>

#include <fmt/format.h>

namespace aircut::sim {
namespace {

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
using G = IsoGroup;
constexpr IsoCodeRule kRules[] = {
    {'G', 0, G::kMotion, IsoUse::kRead, "rapid move in a straight line"},
    {'G', 10, G::kMotion, IsoUse::kRead, "straight move at the feed"},
    {'G', 20, G::kMotion, IsoUse::kRead, "circular or helical move, clockwise seen against the third axis"},
    {'G', 30, G::kMotion, IsoUse::kRead, "circular or helical move, counterclockwise seen against the third axis"},
    {'G', 40, G::kDwell, IsoUse::kRead, "dwell; P or X is the time in seconds, at most 60"},
    {'G', 170, G::kPlane, IsoUse::kRead, "plane of arcs XY, third axis Z"},
    {'G', 180, G::kPlane, IsoUse::kRead, "plane of arcs ZX, third axis Y"},
    {'G', 190, G::kPlane, IsoUse::kRead, "plane of arcs YZ, third axis X"},
    {'G', 200, G::kUnits, IsoUse::kRead, "lengths in inches, as G70"},
    {'G', 210, G::kUnits, IsoUse::kRead, "lengths in millimetres, as G71"},
    {'G', 400, G::kRadius, IsoUse::kRead, "no cutter-radius offset"},
    {'G', 430, G::kLength, IsoUse::kRead, "length offset of number H, added; its value from path.length_offsets"},
    {'G', 440, G::kLength, IsoUse::kRead, "length offset of number H, subtracted"},
    {'G', 490, G::kLength, IsoUse::kRead, "no length offset"},
    {'G', 540, G::kWorkOffset, IsoUse::kRead, "work offset 54; its value from path.work_offsets"},
    {'G', 550, G::kWorkOffset, IsoUse::kRead, "work offset 55"},
    {'G', 560, G::kWorkOffset, IsoUse::kRead, "work offset 56"},
    {'G', 570, G::kWorkOffset, IsoUse::kRead, "work offset 57"},
    {'G', 580, G::kWorkOffset, IsoUse::kRead, "work offset 58"},
    {'G', 590, G::kWorkOffset, IsoUse::kRead, "work offset 59"},
    {'G', 700, G::kUnits, IsoUse::kRead, "lengths in inches"},
    {'G', 710, G::kUnits, IsoUse::kRead, "lengths in millimetres"},
    {'G', 800, G::kMotion, IsoUse::kRead, "no move in force until the next G00 to G03"},
    {'G', 900, G::kDistance, IsoUse::kRead, "coordinates from the path's zero"},
    {'G', 910, G::kDistance, IsoUse::kRead, "coordinates from the last point"},
    {'G', 911, G::kArcCentre, IsoUse::kRead, "I J K of arcs count from the arc's start, as always here"},
    {'G', 930, G::kFeedMode, IsoUse::kRead, "inverse time: F is 1/min, a move takes 1/F minutes"},
    {'G', 940, G::kFeedMode, IsoUse::kRead, "F is the feed a minute"},
    {'G', 950, G::kFeedMode, IsoUse::kRead, "F is the feed a turn of the spindle"},
    {'G', 970, G::kSpeedMode, IsoUse::kRead, "S is the spindle speed in turns a minute"},
    {'M', 0, G::kProgram, IsoUse::kRead, "the program waits for a person"},
    {'M', 10, G::kProgram, IsoUse::kRead, "the program waits if the optional stop is switched on"},
    {'M', 20, G::kProgram, IsoUse::kRead, "end of the program"},
    {'M', 30, G::kSpindle, IsoUse::kRead, "spindle on, clockwise seen from the spindle, at S"},
    {'M', 40, G::kSpindle, IsoUse::kRead, "spindle on, counterclockwise, at S"},
    {'M', 50, G::kSpindle, IsoUse::kRead, "spindle off"},
    {'M', 60, G::kToolChange, IsoUse::kRead, "tool change to the last T; the spindle stops"},
    {'M', 70, G::kCoolant, IsoUse::kRead, "coolant on (mist)"},
    {'M', 80, G::kCoolant, IsoUse::kRead, "coolant on (flood)"},
    {'M', 90, G::kCoolant, IsoUse::kRead, "coolant off"},
    {'M', 300, G::kProgram, IsoUse::kRead, "end of the program and back to its start"},
    {'G', 410, G::kRadius, IsoUse::kRefused, kRadiusOffset}, {'G', 420, G::kRadius, IsoUse::kRefused, kRadiusOffset},
    {'G', 530, G::kMotion, IsoUse::kRefused, kMachineZero}, {'G', 280, G::kMotion, IsoUse::kRefused, kMachineZero},
    {'G', 300, G::kMotion, IsoUse::kRefused, kMachineZero},
    {'G', 901, G::kArcCentre, IsoUse::kRefused, "gives arc centres from the path's zero: write I J K from the arc's start"},
    {'G', 960, G::kMotion, IsoUse::kRefused, "holds the cutting speed by the control: write G97 and S in turns a minute"},
    {'G', 600, G::kMotion, IsoUse::kPassable, kSmoothing}, {'G', 610, G::kMotion, IsoUse::kPassable, kSmoothing},
    {'G', 640, G::kMotion, IsoUse::kPassable, kSmoothing}, {'G', 100, G::kMotion, IsoUse::kRefused, kShift},
    {'G', 520, G::kMotion, IsoUse::kRefused, kShift}, {'G', 920, G::kMotion, IsoUse::kRefused, kShift},
    {'G', 921, G::kMotion, IsoUse::kRefused, kShift}, {'G', 922, G::kMotion, IsoUse::kRefused, kShift},
    {'G', 923, G::kMotion, IsoUse::kRefused, kShift}, {'G', 150, G::kMotion, IsoUse::kRefused, kScaling},
    {'G', 160, G::kMotion, IsoUse::kRefused, kScaling}, {'G', 500, G::kMotion, IsoUse::kRefused, kScaling},
    {'G', 510, G::kMotion, IsoUse::kRefused, kScaling}, {'G', 680, G::kMotion, IsoUse::kRefused, kScaling},
    {'G', 690, G::kMotion, IsoUse::kRefused, kScaling}, {'G', 330, G::kMotion, IsoUse::kRefused, kThread},
    {'G', 340, G::kMotion, IsoUse::kRefused, kThread}, {'G', 350, G::kMotion, IsoUse::kRefused, kThread},
    {'G', 630, G::kMotion, IsoUse::kRefused, kThread}, {'G', 840, G::kMotion, IsoUse::kRefused, kThread},
    {'G', 760, G::kMotion, IsoUse::kRefused, kThread}, {'G', 50, G::kMotion, IsoUse::kRefused, kCurve},
    {'G', 60, G::kMotion, IsoUse::kRefused, kCurve}, {'G', 120, G::kMotion, IsoUse::kRefused, kCurve},
    {'G', 130, G::kMotion, IsoUse::kRefused, kCurve}, {'G', 730, G::kMotion, IsoUse::kRefused, kCycle},
    {'G', 740, G::kMotion, IsoUse::kRefused, kCycle}, {'G', 810, G::kMotion, IsoUse::kRefused, kCycle},
    {'G', 820, G::kMotion, IsoUse::kRefused, kCycle}, {'G', 830, G::kMotion, IsoUse::kRefused, kCycle},
    {'G', 850, G::kMotion, IsoUse::kRefused, kCycle}, {'G', 860, G::kMotion, IsoUse::kRefused, kCycle},
    {'G', 870, G::kMotion, IsoUse::kRefused, kCycle}, {'G', 880, G::kMotion, IsoUse::kRefused, kCycle},
    {'G', 890, G::kMotion, IsoUse::kRefused, kCycle}, {'G', 650, G::kMotion, IsoUse::kRefused, kSubprogram},
    {'G', 660, G::kMotion, IsoUse::kRefused, kSubprogram}, {'G', 670, G::kMotion, IsoUse::kRefused, kSubprogram},
    {'M', 970, G::kMotion, IsoUse::kRefused, kSubprogram}, {'M', 980, G::kMotion, IsoUse::kRefused, kSubprogram},
    {'M', 990, G::kMotion, IsoUse::kRefused, kSubprogram},
};

struct LetterMeaning {
  const char *word, *meaning;
};
constexpr LetterMeaning kLetterMeanings[] = {
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

constexpr int kCodeNumbers = 1000;

}  // namespace

const std::vector<Iso6983Word>& Iso6983Words() {
  static const std::vector<Iso6983Word> words = [] {
    std::vector<Iso6983Word> list;
    for (const LetterMeaning& letter : kLetterMeanings) list.push_back({letter.word, letter.meaning});
    for (const IsoCodeRule& rule : kRules) {
      if (rule.use == IsoUse::kRead) list.push_back({IsoCodeName(rule.letter, rule.tenths), rule.text});
    }
    return list;
  }();
  return words;
}

const IsoCodeRule* FindIsoCode(char letter, int tenths) {
  // One entry a tenth, so that a word is found without a search.
  using Table = std::array<const IsoCodeRule*, kCodeNumbers>;
  static const std::array<Table, 2> tables = [] {
    std::array<Table, 2> t{};
    for (const IsoCodeRule& rule : kRules) t[rule.letter == 'M'][static_cast<std::size_t>(rule.tenths)] = &rule;
    return t;
  }();
  if (tenths < 0 || tenths >= kCodeNumbers) return nullptr;
  return tables[letter == 'M'][static_cast<std::size_t>(tenths)];
}

std::string IsoCodeName(char letter, int tenths) {
  if (tenths % 10 == 0) return fmt::format("{}{:02}", letter, tenths / 10);
  return fmt::format("{}{:02}.{}", letter, tenths / 10, tenths % 10);
}

}  // namespace aircut::sim
