// The moves of IsoProgram: targets, feeds and rows.
#include "sim/iso6983_program.h"

#include <limits>

#include <fmt/format.h>

#include "sim/path_fault.h"

namespace aircut::sim {
namespace {

// I, J or K: the centre's distance from the start along that axis.
char CentreLetter(int axis) { return static_cast<char>('I' + axis); }

}  // namespace

void IsoProgram::Move(const IsoBlock& block) {
  switch (motion_) {
    case Motion::kNone:
      throw PathFault("what move leads to these coordinates is not said: G00, G01, G02 or G03 must be in force");
    case Motion::kRapid:
    case Motion::kStraight: return MoveStraight(block);
    case Motion::kClockwise:
    case Motion::kCounterclockwise: return MoveOnArc(block);
  }
}

IsoTravel IsoProgram::TravelTo(const IsoPoint& target, const IsoPose& pose) const {
  if (!place_.IsKnown()) {
    if (feed_.IsInverseTime()) throw PathFault("G93 needs the start of the move, which is not known here: begin with G00 or G94");
    return {};
  }
  IsoTravel travel;
  travel.words_mm = (target.p_mm - place_.point().p_mm).norm();
  travel.turn_deg = (target.turn_deg - place_.point().turn_deg).norm();
  const bool differs = place_.TurnsWork() && travel.turn_deg > 0;
  travel.stock_mm = differs ? (pose.p_SQ - place_.InStock(place_.point()).p_SQ).norm() : travel.words_mm;
  return travel;
}

void IsoProgram::MoveStraight(const IsoBlock& block) {
  if (block.Has('R')) throw PathFault("R stands in a straight move: take it out or write G02 or G03");
  const IsoPoint target = place_.StraightTarget(block, Scale(), Distance());
  const IsoPose pose = place_.InStock(target);
  ShowStart();
  PoseRow row;
  FillState(row);
  row.p_SQ = pose.p_SQ;
  row.axis_S = pose.axis_S;
  row.R_ST = pose.R_ST;
  if (motion_ == Motion::kStraight) {
    const IsoPace pace = feed_.PaceOf(block, TravelTo(target, pose), Scale(), spindle_rpm_);
    row.feed_mm_s = pace.feed_mm_s;
    row.duration_s = pace.duration_s;
  } else {
    row.move = kinematics::MoveKind::kRapid;
  }
  place_.MoveTo(target);
  Emit(row);
}

Arc IsoProgram::ArcTo(const IsoBlock& block, const IsoPoint& target) const {
  const ArcEnds ends{place_.point().p_mm, target.p_mm, *plane_,
                     motion_ == Motion::kClockwise ? ArcTurn::kClockwise : ArcTurn::kCounterclockwise};
  const char first = CentreLetter(plane_->first), second = CentreLetter(plane_->second);
  const char third = CentreLetter(plane_->third);
  if (block.Has(third)) {
    throw PathFault(fmt::format("{} stands in an arc whose plane it leaves: take it out or mend the plane", third));
  }
  const bool has_centre = block.Has(first) || block.Has(second);
  if (has_centre == block.Has('R')) {
    throw PathFault(fmt::format("an arc must have either its centre by {} and {} or its radius R: write one of them", first,
                                second));
  }
  const auto length_mm = [&](char letter) { return block.Has(letter) ? block[letter] * Scale() : 0.0; };
  return has_centre ? ArcAboutCentre(ends, {length_mm(first), length_mm(second)}) : ArcWithRadius(ends, length_mm('R'));
}

void IsoProgram::MoveOnArc(const IsoBlock& block) {
  if (!plane_) throw PathFault("the plane of the arc is not said: G17, G18 or G19 must stand before it, or under path.modal");
  const IsoPoint target = place_.ArcTarget(block, Scale(), Distance());
  const Arc arc = ArcTo(block, target);
  const int count = ChordCount(arc);
  const double length_mm = ArcLength(arc);
  const IsoPace pace = feed_.PaceOf(block, {length_mm, length_mm, 0.0}, Scale(), spindle_rpm_);
  ShowStart();
  PoseRow row;
  FillState(row);
  row.feed_mm_s = pace.feed_mm_s;
  if (pace.duration_s) row.duration_s = *pace.duration_s / count;
  IsoPoint chord_end = target;
  Eigen::Vector3d before_mm = arc.ends.start;
  for (int i = 1; i <= count; ++i) {
    chord_end.p_mm = ChordEnd(arc, i, count);
    const IsoPose pose = place_.InStock(chord_end);
    row.p_SQ = pose.p_SQ;
    row.axis_S = pose.axis_S;
    row.R_ST = pose.R_ST;
    // Under inverse time the row's own chord over its own share of the time.
    if (row.duration_s) row.feed_mm_s = (chord_end.p_mm - before_mm).norm() / *row.duration_s;
    before_mm = chord_end.p_mm;
    Emit(row);
  }
  place_.MoveTo(target);
}

void IsoProgram::FillState(PoseRow& row) const {
  if (!tool_) {
    throw PathFault("the cutter of this move is not said: T and M06 must stand before it, or path.tool in the job");
  }
  row.line = line_;
  row.spindle_rpm = spindle_rpm_;
  row.tool = *tool_;
  row.length_offset_mm = length_offset_mm_;
}

void IsoProgram::ShowStart() {
  if (rows_ > 0 || !has_declared_start_ || !place_.IsKnown()) return;
  PoseRow row;
  FillState(row);
  const IsoPose pose = place_.InStock(place_.point());
  row.p_SQ = pose.p_SQ;
  row.axis_S = pose.axis_S;
  row.R_ST = pose.R_ST;
  row.move = kinematics::MoveKind::kRapid;
  Emit(row);
}

void IsoProgram::Emit(const PoseRow& row) {
  if (rows_ == std::numeric_limits<int>::max()) throw PathFault("the path has too many moves: split the file");
  ++rows_;
  sink_.row(row);
}

void IsoProgram::Tell(PathEventKind kind, double value) {
  PathEvent event;
  event.kind = kind;
  event.line = line_;
  event.before = rows_;
  event.value = value;
  sink_.event(event);
}

}  // namespace aircut::sim
