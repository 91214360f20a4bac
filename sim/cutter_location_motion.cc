// The statements that move the tool, and what a move needs.
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/cutter_location_reader.h"
#include "sim/path_limits.h"

namespace aircut::sim {

using Eigen::Vector3d;
using kinematics::MoveKind;

void CutterLocationReader::Units() {
  const auto& words = in_.arguments();
  if (words.size() == 1 && words[0] == "MM") {
    mm_per_unit_ = 1.0;
  } else if (words.size() == 1 && words[0] == "INCHES") {
    mm_per_unit_ = kinematics::MmFromInch(1.0);
  } else {
    in_.Fail("UNITS must be written as UNITS/MM or UNITS/INCHES: mend the statement");
  }
}

double CutterLocationReader::UnitOfLength() const {
  if (!mm_per_unit_)
    in_.Fail(fmt::format(
        "{} holds a length before its unit is stated: write UNITS/MM or UNITS/INCHES above",
        in_.major()));
  return *mm_per_unit_;
}

void CutterLocationReader::Multax() {
  const auto& words = in_.arguments();
  if (words.empty() || (words.size() == 1 && words[0] == "ON")) {
    axes_ = Axes::kFive;
  } else if (words.size() == 1 && words[0] == "OFF") {
    axes_ = Axes::kThree;
  } else {
    in_.Fail("MULTAX must be written as MULTAX/ON or MULTAX/OFF: mend the statement");
  }
}

Vector3d CutterLocationReader::PointOf(std::size_t first) const {
  const double unit = UnitOfLength();
  const Vector3d p(in_.Number(first) * unit, in_.Number(first + 1) * unit,
                   in_.Number(first + 2) * unit);
  return p;
}

Vector3d CutterLocationReader::AxisOf(std::size_t first) const {
  const Vector3d axis(in_.Number(first), in_.Number(first + 1), in_.Number(first + 2));
  const auto unit = UnitAxis(axis);
  if (!unit) {
    in_.Fail(
        fmt::format("{}: tool axis i,j,k = ({}, {}, {}) has length {:.7g}, must be 1 within {}: "
                    "normalise it (decimals "
                    "need a point, 1.5 and not 1,5)",
                    in_.major(), axis.x(), axis.y(), axis.z(), axis.norm(), kUnitLength_tolerance));
  }
  return *unit;
}

// Of the axis from value `first` on and the tool's x after it.
Eigen::Matrix3d CutterLocationReader::TurnOf(std::size_t first) const {
  const Vector3d axis = AxisOf(first);
  const Vector3d written(in_.Number(first + 3), in_.Number(first + 4), in_.Number(first + 5));
  const auto x = UnitAxis(written);
  const double along = x ? axis.dot(*x) : 1.0;
  if (!(std::abs(along) <= kUnitLength_tolerance)) {
    in_.Fail(fmt::format("{}: the tool's x u,v,w = ({}, {}, {}) must have length 1 and stand square to the axis i,j,k, "
                         "both within {}: mend it",
                         in_.major(), written.x(), written.y(), written.z(), kUnitLength_tolerance));
  }
  Eigen::Matrix3d turn;
  turn.col(2) = axis;
  turn.col(0) = (*x - along * axis).normalized();
  turn.col(1) = axis.cross(Vector3d(turn.col(0)));
  return turn;
}

// The point of GOTO and FROM; sets the orientation as far as it is given.
Vector3d CutterLocationReader::PointWithAxis() {
  const std::size_t count = in_.arguments().size();
  if (count == 9 && !second_vector_) {
    in_.Fail(fmt::format("{} has 9 values, whose last three mean different things to different programs: say in the "
                         "job what they mean (path.second_vector: tool_x) or take them out",
                         in_.major()));
  }
  if (count != 3 && count != 6 && count != 9) {
    in_.Fail(
        fmt::format("{} has {} values, must have 3 (x,y,z) or 6 (x,y,z,i,j,k): mend the statement "
                    "(decimals need a "
                    "point, 1.5 and not 1,5)",
                    in_.major(), count));
  }
  if (count != 3 && axes_ == Axes::kThree) {
    in_.Fail(
        fmt::format("{} states a tool axis, must have x,y,z only before MULTAX/ON: write MULTAX/ON "
                    "above (decimals "
                    "need a point, 1.5 and not 1,5)",
                    in_.major()));
  }
  const Vector3d p = PointOf(0);
  if (count == 3) return p;
  axis_S_ = AxisOf(3);
  is_axis_stated_ = true;
  R_ST_.reset();
  if (count == 9) R_ST_ = TurnOf(3);
  return p;
}

void CutterLocationReader::ToolAxis() {
  in_.RequireCount(3, "TLAXIS/i,j,k");
  axis_S_ = AxisOf(0);
  is_axis_stated_ = true;
  R_ST_.reset();
}

void CutterLocationReader::From() {
  if (count_ > 0) in_.Fail("FROM follows another FROM or a motion, must be the start: write GOTO");
  Move(PointWithAxis(), MoveKind::kRapid);
}

void CutterLocationReader::Goto() {
  const Vector3d p = PointWithAxis();
  Move(p, rapid_line_ ? MoveKind::kRapid : MoveKind::kCut);
  rapid_line_.reset();
}

void CutterLocationReader::GoDelta() {
  in_.RequireCount(3, "GODLTA/dx,dy,dz");
  if (!p_SQ_) in_.Fail("GODLTA has no point to start from: write FROM or GOTO before it");
  const Vector3d p = *p_SQ_ + PointOf(0);
  Move(p, rapid_line_ ? MoveKind::kRapid : MoveKind::kCut);
  rapid_line_.reset();
}

void CutterLocationReader::Rapid() {
  RequireBare();
  if (rapid_line_)
    in_.Fail(fmt::format(
        "RAPID is given twice, in line {} too, must stand once before its motion: take one out",
        *rapid_line_));
  rapid_line_ = in_.line();
}

void CutterLocationReader::Feed() { feed_ = ReadFeedOrder(in_); }

PoseRow CutterLocationReader::WithFeed(PoseRow row) const {
  using Unit = FeedOrder::Unit;
  if (!feed_ && !defaults_.feed_mm_s)
    in_.Fail(
        "the feed of this cut is missing: write FEDRAT before it or give path.feed in the job");
  const FeedOrder feed = feed_ ? *feed_ : FeedOrder{Unit::kMmPerSecond, *defaults_.feed_mm_s};
  if (feed.unit == Unit::kMmPerSecond) {
    row.feed_mm_s = feed.value;
  } else if (feed.unit == Unit::kMmPerTurn) {
    row.feed_mm_s = feed.value * std::abs(row.spindle_rpm) / 60.0;
    if (!(row.feed_mm_s > 0))
      in_.Fail(
          "the feed is per turn of the spindle, which stands still: write SPINDL before this cut");
  } else {
    if (!p_SQ_)
      in_.Fail(
          "the feed is 1 / minutes of the move, but the move has no start: write FROM or a rapid "
          "before it");
    row.duration_s = 60.0 / feed.value;
    const double travel_mm = (row.p_SQ - *p_SQ_).norm();
    // A turn on the spot has no feed of its own; its duration rules.
    row.feed_mm_s = (travel_mm > 0 ? travel_mm : 1.0) / *row.duration_s;
  }
  return row;
}

// What the file has not said by its first motion comes from the job.
void CutterLocationReader::UseDefaults() {
  if (!tool_) {
    if (!defaults_.tool)
      in_.Fail(
          "the cutter is missing: write LOADTL/n before the first motion or give path.tool in the "
          "job");
    tool_ = defaults_.tool;
    Tell(PathEventKind::kTool, *tool_);
  }
  if (!spindle_rpm_ && defaults_.spindle_rpm) {
    spindle_rpm_ = last_speed_rpm_ = defaults_.spindle_rpm;
    Tell(PathEventKind::kSpindle, *spindle_rpm_);
  }
}

void CutterLocationReader::Move(const Vector3d& p_SQ, MoveKind kind) {
  if (axes_ == Axes::kFive && !is_axis_stated_) {
    in_.Fail(
        fmt::format("{} gives no tool axis and none was stated since MULTAX/ON: write x,y,z,i,j,k "
                    "or TLAXIS above",
                    in_.major()));
  }
  if (!(p_SQ.cwiseAbs().maxCoeff() <= kMaxPlace_mm)) {
    in_.Fail(fmt::format("{} leads beyond +-{} mm, must stay within: mend the point", in_.major(),
                         kMaxPlace_mm));
  }
  UseDefaults();
  PoseRow row;
  row.line = in_.line();
  row.p_SQ = p_SQ;
  row.axis_S = axis_S_;
  row.R_ST = R_ST_;
  row.move = kind;
  row.tool = *tool_;
  row.spindle_rpm = spindle_rpm_.value_or(0.0);
  if (kind == MoveKind::kCut) {
    if (!spindle_rpm_)
      in_.Fail(
          "this cut comes before the spindle is stated: write SPINDL before it or give "
          "path.spindle_rpm in the job");
    row = WithFeed(row);
  }
  p_SQ_ = p_SQ;
  sink_.row(row);
  ++count_;
}

}  // namespace aircut::sim
