#include "sim/cutter_location_reader.h"

#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/nearest_word.h"

namespace aircut::sim {
namespace {

std::string InCapitals(std::string word) {
  for (char& c : word) {
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  }
  return word;
}

}  // namespace

CutterLocationReader::CutterLocationReader(const std::filesystem::path& file,
                                           const PathRules& rules, const PathSink& sink)
    : in_(file), label_(file.string()), defaults_(rules.defaults),
      second_vector_(rules.second_vector), sink_(sink) {
  for (const std::string& word : rules.ignore_words) {
    const std::string capitals = InCapitals(word);
    for (const Entry& entry : Entries()) {
      if (entry.word.word == capitals && entry.ignoring == Ignoring::kNever) {
        throw InputError(fmt::format(
            "{}: path.ignore_words lists {}, which changes what the path does and must not be "
            "passed over: take it out of the list",
            label_, word));
      }
    }
    ignored_.insert(capitals);
  }
}

void CutterLocationReader::ReadAll() {
  while (in_.Next()) Act();
  Finish();
}

void CutterLocationReader::Act() {
  if (ended_ == Ended::kFini)
    in_.Fail(fmt::format(
        "{} follows FINI, must be nothing: take out what follows or move FINI to the end",
        in_.major()));
  if (ended_ == Ended::kEnd && in_.major() != "FINI")
    in_.Fail(fmt::format("{} follows END, must be FINI: take out what follows END", in_.major()));
  if (!ignored_.empty() && ignored_.find(in_.major()) != ignored_.end()) return;
  for (const Entry& entry : Entries()) {
    if (entry.word.word != in_.major()) continue;
    in_.RequireWhole();
    (this->*entry.act)();
    return;
  }
  RefuseUnknown();
}

void CutterLocationReader::RefuseUnknown() const {
  std::vector<std::string> words;
  for (const Entry& entry : Entries()) words.push_back(entry.word.word);
  in_.Fail(fmt::format(
      "{:.40} is not a known statement{}{} mend the word, or list it under path.ignore_words if it "
      "may be passed over",
      in_.major(), DidYouMean(in_.major(), words),
      NearestWord(in_.major(), words).empty() ? ":" : ""));
}

void CutterLocationReader::Finish() const {
  if (rapid_line_) {
    throw InputError(fmt::format(
        "{}:{}: RAPID is not followed by a motion, must be: take it out or see whether the "
        "file was cut off",
        label_, *rapid_line_));
  }
  if (ended_ != Ended::kFini) {
    throw InputError(
        label_ +
        ": the file ends without FINI, must end with it: see whether the file was cut off, "
        "else add FINI as its last line");
  }
  if (count_ == 0)
    throw InputError(label_ + ": the path is empty: at least one GOTO must be there");
}

void CutterLocationReader::Tell(PathEventKind kind, double value) const {
  PathEvent event;
  event.kind = kind;
  event.line = in_.line();
  event.before = count_;
  event.value = value;
  sink_.event(event);
}

void CutterLocationReader::RequireBare() const {
  if (!in_.arguments().empty())
    in_.Fail(fmt::format("{0} has arguments, must stand alone: write {0}", in_.major()));
}

void CutterLocationReader::Order(PathEventKind kind) {
  RequireBare();
  Tell(kind, 0.0);
}

void CutterLocationReader::End() {
  Order(PathEventKind::kEnd);
  ended_ = Ended::kEnd;
}

void CutterLocationReader::Finis() {
  RequireBare();
  if (ended_ == Ended::kNo) Tell(PathEventKind::kEnd, 0.0);
  ended_ = Ended::kFini;
}

void CutterLocationReader::Tolerance() {
  in_.RequireCount(1, std::string(in_.major()) + "/t");
  in_.Number(0);
}

void CutterLocationReader::Refuse() {
  in_.Fail(
      fmt::format("{0} makes a move that depends on the post-processor: write it out as RAPID and "
                  "GOTO, or list "
                  "{0} under path.ignore_words if it does nothing here",
                  in_.major()));
}

void CutterLocationReader::Spindle() {
  const SpindleOrder order = ReadSpindleOrder(in_);
  if (order.what == SpindleOrder::What::kSpeed) last_speed_rpm_ = order.speed_rpm;
  if (order.what == SpindleOrder::What::kOn && !last_speed_rpm_) {
    in_.Fail("SPINDL/ON has no speed to go back to: write SPINDL/s,RPM,CLW or CCLW");
  }
  spindle_rpm_ = order.what == SpindleOrder::What::kOff ? 0.0 : *last_speed_rpm_;
  Tell(PathEventKind::kSpindle, *spindle_rpm_);
}

void CutterLocationReader::LoadTool() {
  const ToolOrder order = ReadToolOrder(in_);
  tool_ = order.tool;
  Tell(PathEventKind::kTool, order.tool);
  if (order.length) Tell(PathEventKind::kToolLength, *order.length * UnitOfLength());
}

void CutterLocationReader::Cutter() {
  PathEvent event;
  event.kind = PathEventKind::kCutterShape;
  event.line = in_.line();
  event.before = count_;
  event.shape = ReadCutterShape(in_, UnitOfLength());
  sink_.event(event);
}

}  // namespace aircut::sim
