#include "sim/pose_table_writer.h"

#include <iterator>
#include <stdexcept>

#include <fmt/format.h>
#include <Eigen/Geometry>

namespace aircut::sim {
namespace {

[[noreturn]] void Refuse(std::size_t row, const char* what) {
  throw std::invalid_argument(fmt::format("row {}: a pose table cannot say {}", row, what));
}

void RequireSayable(const PathProgram& program) {
  if (program.rows.empty()) throw std::invalid_argument("a pose table needs at least one row");
  for (std::size_t i = 0; i < program.rows.size(); ++i) {
    const PoseRow& row = program.rows[i];
    if (row.duration_s) Refuse(i, "the duration of a move");
    if (row.length_offset_mm) Refuse(i, "a length offset");
    if (row.R_ST.has_value() != program.rows.front().R_ST.has_value()) {
      Refuse(i, "an axis here and a whole orientation there");
    }
  }
}

bool IsChange(const PathEvent& event) {
  return event.kind == PathEventKind::kTool || event.kind == PathEventKind::kSpindle;
}

// The dwell after each row [s]; refuses events that the rows will not give.
std::vector<double> Dwells(const PathProgram& program) {
  const std::vector<PathEvent> changes = ChangesInRows(program.rows);
  std::vector<double> dwells(program.rows.size(), 0.0);
  std::size_t next = 0;
  for (const PathEvent& event : program.events) {
    const auto before = static_cast<std::size_t>(event.before);
    if (IsChange(event)) {
      if (next >= changes.size() || changes[next].kind != event.kind ||
          changes[next].before != event.before || changes[next].value != event.value) {
        Refuse(before, "this spindle or tool event: it must be a change between two rows");
      }
      ++next;
      continue;
    }
    if (event.kind != PathEventKind::kDwell) Refuse(before, "this event");
    if (before == 0 || dwells.at(before - 1) > 0 || !(event.value > 0))
      Refuse(before, "this dwell");
    dwells[before - 1] = event.value;
  }
  if (next != changes.size()) Refuse(0, "less spindle and tool events than the rows show");
  return dwells;
}

}  // namespace

std::vector<PathEvent> ChangesInRows(const std::vector<PoseRow>& rows) {
  std::vector<PathEvent> changes;
  const auto add = [&](PathEventKind kind, std::size_t before, double value) {
    PathEvent event;
    event.kind = kind;
    event.before = static_cast<int>(before);
    event.value = value;
    changes.push_back(event);
  };
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (i == 0 || rows[i].tool != rows[i - 1].tool) add(PathEventKind::kTool, i, rows[i].tool);
    if (i == 0 || rows[i].spindle_rpm != rows[i - 1].spindle_rpm) {
      add(PathEventKind::kSpindle, i, rows[i].spindle_rpm);
    }
  }
  return changes;
}

std::string PoseTableText(const PathProgram& program) {
  RequireSayable(program);
  const std::vector<double> dwells = Dwells(program);
  const bool has_turns = program.rows.front().R_ST.has_value();
  std::string text = has_turns ? "x_mm,y_mm,z_mm,qw,qx,qy,qz" : "x_mm,y_mm,z_mm,i,j,k";
  text += ",feed_mm_s,spindle_rpm,tool,move,dwell_s\n";
  auto out = std::back_inserter(text);
  for (std::size_t i = 0; i < program.rows.size(); ++i) {
    const PoseRow& row = program.rows[i];
    fmt::format_to(out, "{},{},{},", row.p_SQ.x(), row.p_SQ.y(), row.p_SQ.z());
    if (has_turns) {
      const Eigen::Quaterniond turn(*row.R_ST);
      fmt::format_to(out, "{},{},{},{},", turn.w(), turn.x(), turn.y(), turn.z());
    } else {
      fmt::format_to(out, "{},{},{},", row.axis_S.x(), row.axis_S.y(), row.axis_S.z());
    }
    fmt::format_to(out, "{},{},{},{},{}\n", row.feed_mm_s, row.spindle_rpm, row.tool,
                   row.move == kinematics::MoveKind::kCut ? "cut" : "rapid", dwells[i]);
  }
  return text;
}

}  // namespace aircut::sim
