#include "sim/iso6983_writer.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

using Axis = IsoWriterOptions::Axis;

constexpr double kUpright_tolerance = 1e-12;
constexpr double kUpset_tolerance = 1e-9;   // the tool's x this near to S's z leaves C open
constexpr double kLongestDwell_s = 60.0;   // what the reader takes for seconds

/// A number as the format knows it: no exponent, and no digit more than it takes.
std::string Decimal(double value) {
  std::array<char, 512> text;
  const auto [end, error] = std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed);
  if (error != std::errc() || !std::isfinite(value)) throw std::invalid_argument("a number of the path must be finite");
  return {text.data(), end};
}

class IsoWriter {
 public:
  IsoWriter(const IsoWriterOptions& options, std::ostream& out) : options_(options), out_(out) {}

  void Write(const std::vector<PoseRow>& rows, const std::vector<PathEvent>& events) {
    out_ << "%\nG21 G90 G17 G40 G49 G94\n";
    std::size_t next = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      for (; next < events.size() && events[next].before <= static_cast<int>(i); ++next) WriteEvent(events[next]);
      WriteRow(rows[i]);
      before_ = &rows[i];
      is_start_known_ = true;
    }
    for (; next < events.size(); ++next) WriteEvent(events[next]);
    out_ << "M30\n%\n";
  }

 private:
  [[noreturn]] static void Fail(const PoseRow& row, const std::string& what) {
    throw std::invalid_argument(fmt::format("row of line {}: {}", row.line, what));
  }

  void WriteEvent(const PathEvent& event) {
    switch (event.kind) {
      case PathEventKind::kSpindle: return WriteSpindle(event.value);
      case PathEventKind::kTool: return WriteTool(static_cast<int>(event.value));
      case PathEventKind::kDwell: return WriteDwell(event.value);
      case PathEventKind::kCoolant: out_ << (event.value != 0.0 ? "M08\n" : "M09\n"); return;
      case PathEventKind::kStop: out_ << "M00\n"; return;
      case PathEventKind::kOptionalStop: out_ << "M01\n"; return;
      case PathEventKind::kToolLength:
      case PathEventKind::kCutterShape:
      case PathEventKind::kEnd: return;   // no word, or written once at the end
    }
  }

  void WriteSpindle(double rpm) {
    if (rpm == 0.0) {
      out_ << "M05\n";
    } else {
      out_ << 'S' << Decimal(std::abs(rpm)) << (rpm > 0 ? " M03\n" : " M04\n");
    }
    spindle_rpm_ = rpm;
  }

  void WriteTool(int tool) {
    out_ << 'T' << tool << " M06\n";
    tool_ = tool;
    spindle_rpm_ = 0.0;   // a tool change stops it
    is_start_known_ = false;
  }

  void WriteDwell(double time_s) {
    for (; time_s > kLongestDwell_s; time_s -= kLongestDwell_s) out_ << "G04 P" << Decimal(kLongestDwell_s) << '\n';
    out_ << "G04 P" << Decimal(time_s) << '\n';
  }

  void WriteRow(const PoseRow& row) {
    if (row.R_ST.has_value() != (options_.axis == Axis::kWhole)) {
      Fail(row, row.R_ST ? "a rotation about the tool axis has no words: write the path with axes alone"
                         : "three turning words need the whole orientation");
    }
    if (row.tool != tool_) WriteTool(row.tool);
    if (row.spindle_rpm != spindle_rpm_) WriteSpindle(row.spindle_rpm);
    std::string block = LengthWords(row);
    const bool is_cut = row.move == kinematics::MoveKind::kCut;
    const std::string feed = is_cut ? FeedWords(row) : "";
    block += is_cut ? "G01" : "G00";
    for (int i = 0; i < 3; ++i) block += fmt::format(" {}{}", static_cast<char>('X' + i), Decimal(row.p_SQ[i]));
    out_ << block << AxisWords(row) << feed << '\n';
  }

  std::string LengthWords(const PoseRow& row) {
    if (row.length_offset_mm == length_offset_mm_) return "";
    length_offset_mm_ = row.length_offset_mm;
    is_start_known_ = false;
    if (!row.length_offset_mm) return "G49 ";
    for (const auto& [number, value_mm] : options_.length_offsets_mm) {
      if (value_mm == *row.length_offset_mm) return fmt::format("G43 H{} ", number);
      if (value_mm == -*row.length_offset_mm) return fmt::format("G44 H{} ", number);
    }
    Fail(row, fmt::format("length offset {} mm has no H number", *row.length_offset_mm));
  }

  std::string FeedWords(const PoseRow& row) {
    if (row.duration_s) {
      if (!is_start_known_) {
        Fail(row, "the first move of a path, after a tool change or with a new length offset cannot have a written time");
      }
      const std::string mode = is_inverse_time_ ? "" : " G93";
      is_inverse_time_ = true;
      feed_mm_s_.reset();
      return mode + " F" + Decimal(60.0 / *row.duration_s);
    }
    if (TurnsByWords() && before_ != nullptr && row.p_SQ == before_->p_SQ &&
        (row.axis_S != before_->axis_S || row.R_ST != before_->R_ST)) {
      Fail(row, "a turn without travel needs a written time: F would be read in degrees a minute");
    }
    std::string words = is_inverse_time_ ? " G94" : "";
    is_inverse_time_ = false;
    if (feed_mm_s_ != row.feed_mm_s) words += " F" + Decimal(kinematics::MmPerMinFromMmPerSec(row.feed_mm_s));
    feed_mm_s_ = row.feed_mm_s;
    return words;
  }

  bool TurnsByWords() const { return options_.axis == Axis::kTurns || options_.axis == Axis::kWhole; }

  // The copy of an angle that is nearest to the last one.
  static double Unwound(double angle_deg, double last_deg) {
    return angle_deg + 360.0 * std::round((last_deg - angle_deg) / 360.0);
  }

  // R = Rz(C) Ry(B) Rx(A), one turn taken off after the other: whatever C is, B and
  // A make up for it, also where B is 90 degrees and C and A are one axis.
  std::string WholeWords(const Eigen::Matrix3d& R_ST) {
    using Eigen::AngleAxisd;
    const bool is_upset = std::hypot(R_ST(0, 0), R_ST(1, 0)) < kUpset_tolerance;
    if (!is_upset) c_deg_ = Unwound(kinematics::DegFromRad(std::atan2(R_ST(1, 0), R_ST(0, 0))), c_deg_);
    const Eigen::Matrix3d after_c =
        AngleAxisd(-kinematics::RadFromDeg(c_deg_), Eigen::Vector3d::UnitZ()).toRotationMatrix() * R_ST;
    const double b_rad = std::atan2(-after_c(2, 0), after_c(0, 0));
    const Eigen::Matrix3d after_b = AngleAxisd(-b_rad, Eigen::Vector3d::UnitY()).toRotationMatrix() * after_c;
    a_deg_ = Unwound(kinematics::DegFromRad(std::atan2(after_b(2, 1), after_b(1, 1))), a_deg_);
    return fmt::format(" C{} B{} A{}", Decimal(c_deg_), Decimal(kinematics::DegFromRad(b_rad)), Decimal(a_deg_));
  }

  std::string AxisWords(const PoseRow& row) {
    if (options_.axis == Axis::kWhole) return WholeWords(*row.R_ST);
    const Eigen::Vector3d& axis = row.axis_S;
    if (options_.axis == Axis::kVector) {
      return fmt::format(" I{} J{} K{}", Decimal(axis.x()), Decimal(axis.y()), Decimal(axis.z()));
    }
    if (options_.axis == Axis::kUpright) {
      if (!((axis - Eigen::Vector3d::UnitZ()).norm() <= kUpright_tolerance)) {
        Fail(row, "a tilted tool axis needs vector or turning words");
      }
      return "";
    }
    // axis = Rz(C) Rx(A) z = (sin C sin A, -cos C sin A, cos A).
    const double a_deg = kinematics::DegFromRad(std::atan2(std::hypot(axis.x(), axis.y()), axis.z()));
    // Upright, C is free and stays; else the turn nearest to the last one.
    if (axis.x() != 0.0 || axis.y() != 0.0) {
      c_deg_ = Unwound(kinematics::DegFromRad(std::atan2(axis.x(), -axis.y())), c_deg_);
    }
    return fmt::format(" C{} A{}", Decimal(c_deg_), Decimal(a_deg));
  }

  const IsoWriterOptions& options_;
  std::ostream& out_;
  const PoseRow* before_ = nullptr;
  bool is_start_known_ = false;       // whether the reader will know where a move begins
  std::optional<int> tool_;
  double spindle_rpm_ = 0.0;
  std::optional<double> length_offset_mm_;
  bool is_inverse_time_ = false;
  std::optional<double> feed_mm_s_;   // last F under G94
  double c_deg_ = 0.0, a_deg_ = 0.0;
};

}  // namespace

void WriteIso6983(const std::vector<PoseRow>& rows, const std::vector<PathEvent>& events,
                  const IsoWriterOptions& options, std::ostream& out) {
  IsoWriter(options, out).Write(rows, events);
}

}  // namespace aircut::sim
