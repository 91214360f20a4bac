#include "sim/cutter_location_writer.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

using kinematics::MoveKind;

// The number that gives `value` when the reader turns it, or the nearest one.
template <typename Read>
double NumberFor(double value, double guess, Read read) {
  double best = guess;
  for (const double toward : {-HUGE_VAL, HUGE_VAL}) {
    double candidate = guess;
    for (int i = 0; i < 3 && read(best) != value; ++i) {
      if (std::abs(read(candidate) - value) < std::abs(read(best) - value)) best = candidate;
      candidate = std::nextafter(candidate, toward);
    }
  }
  return best;
}

class Writer {
 public:
  explicit Writer(const PathProgram& program) : program_(program) {}

  std::string Text() {
    text_ = "$$ lengths in mm, tool axis from tip to spindle\nUNITS/MM\n";
    const auto is_turned = [](const PoseRow& row) {
      return row.axis_S != Eigen::Vector3d(Eigen::Vector3d::UnitZ());
    };
    const auto is_whole = [](const PoseRow& row) { return row.R_ST.has_value(); };
    has_turns_ = std::any_of(program_.rows.begin(), program_.rows.end(), is_whole);
    has_axes_ = has_turns_ || std::any_of(program_.rows.begin(), program_.rows.end(), is_turned);
    if (has_axes_) text_ += "MULTAX/ON\n";
    for (index_ = 0; index_ <= program_.rows.size(); ++index_) {
      WriteEvents();
      if (index_ < program_.rows.size()) WriteRow(program_.rows[index_]);
    }
    if (next_ != program_.events.size()) Refuse("events that are not in the order of the rows");
    text_ += "FINI\n";
    return std::move(text_);
  }

 private:
  [[noreturn]] void Refuse(const char* what) const {
    throw std::invalid_argument(
        fmt::format("row {}: cutter-location statements cannot say {}", index_, what));
  }

  template <typename... Args>
  void Put(fmt::format_string<Args...> form, Args&&... args) {
    fmt::format_to(std::back_inserter(text_), form, std::forward<Args>(args)...);
  }

  void WriteEvents() {
    const auto& events = program_.events;
    for (; next_ < events.size() && events[next_].before == static_cast<int>(index_); ++next_) {
      WriteEvent(events[next_]);
    }
  }

  void WriteEvent(const PathEvent& event) {
    switch (event.kind) {
      case PathEventKind::kSpindle:
        return WriteSpindle(event.value);
      case PathEventKind::kTool:
        return WriteTool(event);
      case PathEventKind::kToolLength:
        return RequireWrittenWithTool();
      case PathEventKind::kCutterShape:
        return WriteShape(event);
      case PathEventKind::kDwell:
        return Put("DELAY/{}\n", event.value);
      case PathEventKind::kCoolant:
        return Put("COOLNT/{}\n", event.value != 0 ? "ON" : "OFF");
      case PathEventKind::kStop:
        return Put("STOP\n");
      case PathEventKind::kOptionalStop:
        return Put("OPSTOP\n");
      case PathEventKind::kEnd:
        break;  // FINI says it
    }
    if (next_ + 1 != program_.events.size() || index_ != program_.rows.size())
      Refuse("an end before the last row or event");
  }

  void WriteSpindle(double speed_rpm) {
    spindle_rpm_ = speed_rpm;
    if (speed_rpm == 0) return Put("SPINDL/OFF\n");
    Put("SPINDL/{},RPM,{}\n", std::abs(speed_rpm), speed_rpm > 0 ? "CLW" : "CCLW");
  }

  // With the length event that follows, as one statement.
  void WriteTool(const PathEvent& event) {
    tool_ = static_cast<int>(event.value);
    Put("LOADTL/{}", tool_.value());
    const auto& events = program_.events;
    if (next_ + 1 < events.size() && events[next_ + 1].kind == PathEventKind::kToolLength &&
        events[next_ + 1].before == event.before) {
      Put(",LENGTH,{}", events[next_ + 1].value);
    }
    text_ += '\n';
  }

  void RequireWrittenWithTool() const {
    if (next_ == 0 || program_.events[next_ - 1].kind != PathEventKind::kTool)
      Refuse("a cutter's length without its cutter");
  }

  void WriteShape(const PathEvent& event) {
    const auto& s = event.shape;
    const auto degrees = [](double angle_rad) {
      return NumberFor(angle_rad, kinematics::DegFromRad(angle_rad), kinematics::RadFromDeg);
    };
    Put("CUTTER/{},{},{},{},{},{},{}\n", s[0], s[1], s[2], s[3], degrees(s[4]), degrees(s[5]),
        s[6]);
  }

  void WriteRow(const PoseRow& row) {
    if (row.R_ST.has_value() != has_turns_) Refuse("an axis here and a whole orientation there");
    if (row.length_offset_mm) Refuse("a length offset");
    if (!tool_ || *tool_ != row.tool) Refuse("a tool that was not loaded before the row");
    if (spindle_rpm_.value_or(0.0) != row.spindle_rpm)
      Refuse("a spindle speed that was not commanded before the row");
    if (row.move == MoveKind::kRapid) {
      text_ += "RAPID\n";
    } else {
      if (!spindle_rpm_) Refuse("a cut before the spindle is commanded");
      WriteFeed(row);
    }
    Put("GOTO/{},{},{}", row.p_SQ.x(), row.p_SQ.y(), row.p_SQ.z());
    if (has_axes_) PutVector(row.axis_S);
    if (row.R_ST) PutVector(row.R_ST->col(0));
    text_ += '\n';
  }

  void PutVector(const Eigen::Vector3d& v) { Put(",{},{},{}", v.x(), v.y(), v.z()); }

  void WriteFeed(const PoseRow& row) {
    if (row.duration_s && index_ == 0) Refuse("an inverse-time move without a start");
    const auto per_move = [](double moves_min) { return 60.0 / moves_min; };
    const double value =
        row.duration_s ? NumberFor(*row.duration_s, 60.0 / *row.duration_s, per_move)
                       : NumberFor(row.feed_mm_s, kinematics::MmPerMinFromMmPerSec(row.feed_mm_s),
                                   kinematics::MmPerSecFromMmPerMin);
    const std::string feed =
        fmt::format("FEDRAT/{},{}\n", value, row.duration_s ? "INVERS" : "MMPM");
    if (feed != feed_) text_ += feed;
    feed_ = feed;
  }

  const PathProgram& program_;
  std::string text_;
  bool has_axes_ = false, has_turns_ = false;
  std::size_t index_ = 0, next_ = 0;  // of the row and the event at hand
  std::optional<int> tool_;
  std::optional<double> spindle_rpm_;
  std::string feed_;  // the last FEDRAT
};

}  // namespace

std::string CutterLocationText(const PathProgram& program) { return Writer(program).Text(); }

}  // namespace aircut::sim
