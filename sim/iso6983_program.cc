#include "sim/iso6983_program.h"

#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/path_fault.h"

namespace aircut::sim {
namespace {

constexpr std::string_view kPlaceLetters = "XYZABC";
constexpr std::string_view kArcLetters = "IJKR";
constexpr double kMaxSpeed_rpm = 1e6;
// Some controls count P in milliseconds: a longer dwell is more likely that.
constexpr double kMaxDwell_s = 60.0;

int WholeNumber(const IsoBlock& block, char letter) {
  const double value = block[letter];
  if (!(value >= 0 && value <= 1e6) || value != std::floor(value)) {
    throw PathFault(fmt::format("{} = {} must be a whole number from 0: mend the value", letter, value));
  }
  return static_cast<int>(value);
}

std::string NameOf(const IsoCode& code) { return IsoCodeName(code.letter, code.tenths); }

}  // namespace

IsoProgram::IsoProgram(const PathRules& rules, const PathSink& sink)
    : rules_(rules), sink_(sink), place_(rules), feed_(rules.defaults.feed_mm_s), tool_(rules.defaults.tool) {
  if (rules.defaults.spindle_rpm) {
    spindle_rpm_ = *rules.defaults.spindle_rpm;
    has_default_speed_ = true;
  }
}

void IsoProgram::Start(const IsoBlock& modal) {
  for (const IsoGroup group : {IsoGroup::kDwell, IsoGroup::kProgram, IsoGroup::kToolChange, IsoGroup::kSpindle,
                               IsoGroup::kCoolant}) {
    if (!modal.HasCode(group)) continue;
    throw PathFault(fmt::format("{} is no word that can be in force at the start: write modal G words, F and the point "
                                "where the path starts",
                                NameOf(modal.Code(group))));
  }
  for (const char letter : {'N', 'R', 'S', 'T', 'D', 'P'}) {
    if (modal.Has(letter)) {
      throw PathFault(fmt::format("{} is no word that can be in force at the start: write it in the path", letter));
    }
  }
  if (modal.is_percent()) throw PathFault("% stands in the file, not among the words in force at the start");
  TakeUnits(modal);
  feed_.Take(modal);
  TakeModes(modal);
  if (modal.HasAny(kPlaceLetters) || modal.HasAny("IJK")) {
    if (Distance() != IsoDistance::kAbsolute) throw PathFault("the start must be given in absolute coordinates: write G90");
    place_.Declare(modal, Scale());
    place_.InStock(place_.point());   // the point needs a work offset if the job has any
    has_declared_start_ = true;
  }
}

void IsoProgram::Run(const IsoBlock& block, int line) {
  line_ = line;
  if (block.is_empty()) return;
  if (block.is_percent()) return RunPercent();
  if (percent_ == Percent::kClosed) throw PathFault("a block stands behind the closing %: take it out, or the sign");
  if (has_ended_) {
    throw PathFault("a block stands behind M02 or M30, the end of the program: take it out; only % may follow");
  }
  const bool has_move = HasMove(block);
  TakeUnits(block);
  feed_.Take(block);
  TakeSpindleSpeed(block);
  TakeToolChange(block);
  TakeSpindle(block);
  const bool coolant_off = block.HasCode(IsoGroup::kCoolant) && block.Code(IsoGroup::kCoolant).number == 9;
  if (!coolant_off) TakeCoolant(block);
  TakeDwell(block);
  TakeModes(block);
  if (has_move) {
    Move(block);
  } else {
    CheckLooseWords(block);
  }
  if (coolant_off) TakeCoolant(block);
  TakeProgramWord(block);
}

void IsoProgram::RunPercent() {
  if (percent_ == Percent::kNone && rows_ == 0 && !has_ended_) {
    percent_ = Percent::kOpen;
  } else if (percent_ == Percent::kOpen || (percent_ == Percent::kNone && has_ended_)) {
    if (!has_ended_) Tell(PathEventKind::kEnd, 0.0);
    has_ended_ = true;
    percent_ = Percent::kClosed;
  } else {
    throw PathFault("% may stand before the first block and after the last: take this one out");
  }
}

void IsoProgram::Finish() const {
  if (rows_ == 0) throw PathFault("the path is empty: it must hold at least one move");
  if (next_tool_ && !has_changed_tool_ && next_tool_ != tool_) {
    throw PathFault(fmt::format("T{} is called but no M06 puts it in, while path.tool of the job says {}: write M06, or "
                                "make both agree",
                                *next_tool_, *tool_));
  }
  if (!has_ended_) {
    throw PathFault("the program has no end, as if the file were cut off: M02 or M30 must be its last block");
  }
}

bool IsoProgram::HasMove(const IsoBlock& block) const {
  if (block.Code(IsoGroup::kDwell).number == 4 && block.HasCode(IsoGroup::kDwell)) {
    if (block.HasAny("YZABCIJKR")) throw PathFault("G04 stands in the block of a move: give the dwell a block of its own");
    return false;
  }
  const bool is_arc = block.HasCode(IsoGroup::kMotion)
                          ? block.Code(IsoGroup::kMotion).number == 2 || block.Code(IsoGroup::kMotion).number == 3
                          : motion_ == Motion::kClockwise || motion_ == Motion::kCounterclockwise;
  return block.HasAny(kPlaceLetters) || (is_arc && block.HasAny(kArcLetters)) ||
         (place_.HasVectorWords() && block.HasAny("IJK"));
}

void IsoProgram::CheckLooseWords(const IsoBlock& block) const {
  if (!block.HasAny(kArcLetters)) return;
  throw PathFault("I, J, K or R stands in a block without a move: take it out or write the move");
}

double IsoProgram::Scale() const {
  if (!scale_mm_) {
    throw PathFault("the units are not said: G71 or G21 (mm), G70 or G20 (inch) must stand before the first coordinate, "
                    "or under path.modal");
  }
  return *scale_mm_;
}

IsoDistance IsoProgram::Distance() const {
  if (!distance_) {
    throw PathFault("whether coordinates are absolute is not said: G90 or G91 must stand before the first, or under "
                    "path.modal");
  }
  return *distance_;
}

void IsoProgram::TakeUnits(const IsoBlock& block) {
  if (!block.HasCode(IsoGroup::kUnits)) return;
  const int number = block.Code(IsoGroup::kUnits).number;
  const double scale_mm = number == 20 || number == 70 ? kinematics::MmFromInch(1.0) : 1.0;
  if (scale_mm_ && *scale_mm_ != scale_mm) {
    if (block.HasAny("XYZIJKRF")) {
      throw PathFault(fmt::format("{} changes the units in a block that has lengths or F: give it a block of its own",
                                  NameOf(block.Code(IsoGroup::kUnits))));
    }
    feed_.Drop();
  }
  scale_mm_ = scale_mm;
}

void IsoProgram::TakeSpindleSpeed(const IsoBlock& block) {
  if (!block.Has('S') && !block.HasCode(IsoGroup::kSpindle)) return;
  if (has_default_speed_) {
    if (rows_ > 0) {
      throw PathFault("the path switches the spindle after moves that took path.spindle_rpm from the job: take "
                      "path.spindle_rpm out, or all spindle words");
    }
    has_default_speed_ = false;
    spindle_rpm_ = 0.0;
  }
  if (!block.Has('S')) return;
  if (!(block['S'] >= 0 && block['S'] <= kMaxSpeed_rpm)) {
    throw PathFault(fmt::format("S = {} must lie in 0 to {} rpm: M04, not a sign, turns the spindle the other way",
                                block['S'], kMaxSpeed_rpm));
  }
  speed_rpm_ = block['S'];
  if (spindle_rpm_ == 0 || block.HasCode(IsoGroup::kSpindle)) return;
  spindle_rpm_ = std::copysign(*speed_rpm_, spindle_rpm_) + 0.0;   // + 0.0: no minus zero
  Tell(PathEventKind::kSpindle, spindle_rpm_);
}

void IsoProgram::TakeToolChange(const IsoBlock& block) {
  if (block.Has('T')) next_tool_ = WholeNumber(block, 'T');
  if (!block.HasCode(IsoGroup::kToolChange)) return;
  if (HasMove(block)) {
    throw PathFault("M06 stands in the block of a move, and which comes first differs between controls: give M06 a "
                    "block of its own");
  }
  if (!next_tool_) {
    throw PathFault("M06 must come with or after the T word of the cutter to put in: write T and its number");
  }
  tool_ = next_tool_;
  next_tool_.reset();
  has_changed_tool_ = true;
  if (!has_default_speed_) spindle_rpm_ = 0.0;
  if (rows_ > 0) place_.Forget(IsoPlace::Lost::kEverything, "M06");
  Tell(PathEventKind::kTool, *tool_);
}

void IsoProgram::TakeSpindle(const IsoBlock& block) {
  if (!block.HasCode(IsoGroup::kSpindle)) return;
  const int number = block.Code(IsoGroup::kSpindle).number;
  if (number == 5) {
    if (HasMove(block)) {
      throw PathFault("M05 stands in the block of a move, and whether the spindle stops before or after it differs "
                      "between controls: give M05 a block of its own");
    }
    spindle_rpm_ = 0.0;
  } else {
    if (!speed_rpm_) throw PathFault(fmt::format("M{:02} must come with or after an S word: write the spindle speed", number));
    spindle_rpm_ = number == 4 ? 0.0 - *speed_rpm_ : *speed_rpm_;
  }
  Tell(PathEventKind::kSpindle, spindle_rpm_);
}

void IsoProgram::TakeCoolant(const IsoBlock& block) {
  if (!block.HasCode(IsoGroup::kCoolant)) return;
  Tell(PathEventKind::kCoolant, block.Code(IsoGroup::kCoolant).number == 9 ? 0.0 : 1.0);
}

void IsoProgram::TakeDwell(const IsoBlock& block) {
  if (!block.HasCode(IsoGroup::kDwell)) {
    // A word that is passed over takes its P along.
    if (block.Has('P') && !block.has_passed_over()) throw PathFault("P stands without G04: take it out");
    return;
  }
  if (block.Has('P') == block.Has('X')) throw PathFault("G04 must have its time in seconds as P or as X: write one of them");
  const char letter = block.Has('P') ? 'P' : 'X';
  if (!(block[letter] >= 0 && block[letter] <= kMaxDwell_s)) {
    throw PathFault(fmt::format("G04 {} = {} must lie in 0 to {} s: write the time in seconds, not in milliseconds",
                                letter, block[letter], kMaxDwell_s));
  }
  Tell(PathEventKind::kDwell, block[letter]);
}

void IsoProgram::TakeModes(const IsoBlock& block) {
  if (block.HasCode(IsoGroup::kPlane)) {
    const int number = block.Code(IsoGroup::kPlane).number;
    plane_ = number == 17 ? kPlaneXy : number == 18 ? kPlaneZx : kPlaneYz;
  }
  TakeLengthOffset(block);
  if (block.HasCode(IsoGroup::kWorkOffset)) place_.SetWorkOffset(block.Code(IsoGroup::kWorkOffset).number);
  if (block.HasCode(IsoGroup::kDistance)) {
    distance_ = block.Code(IsoGroup::kDistance).number == 90 ? IsoDistance::kAbsolute : IsoDistance::kIncremental;
  }
  if (!block.HasCode(IsoGroup::kMotion)) return;
  switch (block.Code(IsoGroup::kMotion).number) {
    case 0: motion_ = Motion::kRapid; break;
    case 1: motion_ = Motion::kStraight; break;
    case 2: motion_ = Motion::kClockwise; break;
    case 3: motion_ = Motion::kCounterclockwise; break;
    default: motion_ = Motion::kNone; break;
  }
}

void IsoProgram::TakeLengthOffset(const IsoBlock& block) {
  if (!block.HasCode(IsoGroup::kLength)) {
    if (block.Has('H')) throw PathFault("H stands without G43 or G44: take it out or write the word that uses it");
    return;
  }
  const IsoCode& code = block.Code(IsoGroup::kLength);
  const std::optional<double> before_mm = length_offset_mm_;
  if (code.number == 49) {
    if (block.Has('H')) throw PathFault("H stands with G49, which ends the length offset: take it out");
    length_offset_mm_.reset();
  } else {
    if (!block.Has('H')) throw PathFault(fmt::format("G{} must come with H, the number of its length offset", code.number));
    const int number = WholeNumber(block, 'H');
    const auto found = rules_.length_offsets_mm.find(number);
    if (found == rules_.length_offsets_mm.end()) {
      throw PathFault(fmt::format("H{} needs the value of that length offset: give path.length_offsets.{} in the job",
                                  number, number));
    }
    length_offset_mm_ = code.number == 44 ? -found->second : found->second;
  }
  if (length_offset_mm_ != before_mm) place_.Forget(IsoPlace::Lost::kHeight, NameOf(code));
}

void IsoProgram::TakeProgramWord(const IsoBlock& block) {
  if (!block.HasCode(IsoGroup::kProgram)) return;
  const int number = block.Code(IsoGroup::kProgram).number;
  if (number == 0) return Tell(PathEventKind::kStop, 0.0);
  if (number == 1) return Tell(PathEventKind::kOptionalStop, 0.0);
  has_ended_ = true;
  Tell(PathEventKind::kEnd, 0.0);
}

}  // namespace aircut::sim
