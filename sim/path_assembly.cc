#include "sim/path_assembly.h"

#include <utility>

#include <fmt/format.h>

#include "kinematics/straight_move.h"
#include "sim/input_error.h"

namespace aircut::sim {
namespace {

std::string Numbers(const std::map<int, CellCutter>& cutters) {
  std::string text;
  for (const auto& [number, cutter] : cutters) text += (text.empty() ? "" : ", ") + std::to_string(number);
  return text;
}

}  // namespace

PathAssembly::PathAssembly(const Cell& cell, const kinematics::Pose& X_SP, std::string label)
    : cell_(cell), X_SP_(X_SP), label_(std::move(label)) {}

void PathAssembly::RequireCutter(int tool, int line) const {
  if (cell_.cutters.count(tool) > 0) return;
  throw InputError(fmt::format("{}:{}: tool = {} must be a cutter of the cell ({}): mend the number or describe the "
                               "cutter", label_, line, tool, Numbers(cell_.cutters)));
}

const CellCutter& PathAssembly::CutterOf(const PoseRow& row) const {
  RequireCutter(row.tool, row.line);
  return cell_.cutters.at(row.tool);
}

void PathAssembly::Add(const PoseRow& row) {
  const CellCutter& cutter = CutterOf(row);
  kinematics::PathLine line;
  line.line = row.line;
  line.axis_S = X_SP_.linear() * row.axis_S;
  const double below_mm =
      row.length_offset_mm ? cutter.stick_out_mm - *row.length_offset_mm : cutter.control_height_mm;
  line.p_ST = X_SP_ * row.p_SQ - below_mm * line.axis_S;
  if (row.R_ST) line.R_ST = X_SP_.linear() * *row.R_ST;
  line.feed_mm_s = row.feed_mm_s;
  line.duration_s = row.duration_s;
  line.move = row.move;
  line.spindle_rpm = row.spindle_rpm;
  line.tool = row.tool;
  // The written time rules: the tip may travel where the control point does not.
  if (line.duration_s && !path_.empty()) {
    const double travel_mm = (line.p_ST - path_.back().p_ST).norm();
    if (travel_mm > kinematics::kNoTravel_mm) line.feed_mm_s = travel_mm / *line.duration_s;
  }
  path_.push_back(std::move(line));
}

void PathAssembly::Add(PathEvent event) {
  if (event.kind == PathEventKind::kTool) RequireCutter(static_cast<int>(event.value), event.line);
  event.before = static_cast<int>(path_.size());
  if (event.kind == PathEventKind::kDwell && !path_.empty()) path_.back().dwell_s += event.value;
  events_.push_back(event);
}

}  // namespace aircut::sim
