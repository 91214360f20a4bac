#include "sim/path_copy.h"

#include <sstream>
#include <stdexcept>

#include "kinematics/straight_move.h"
#include "sim/cutter_location_writer.h"
#include "sim/iso6983_writer.h"
#include "sim/pose_table_writer.h"

namespace aircut::sim {
namespace {

using kinematics::PathLine;
using Kind = PathEventKind;

PathEvent Order(Kind kind, std::size_t before, double value) {
  PathEvent event;
  event.kind = kind;
  event.before = static_cast<int>(before);
  event.value = value;
  return event;
}

bool IsDwell(const PathEvent& event) { return event.kind == Kind::kDwell; }

// A pose table shows cutters and speeds in its rows and waits after them.
PathProgram TableProgram(const kinematics::ToolPath& path, std::vector<PoseRow> rows) {
  PathProgram program;
  program.rows = std::move(rows);
  const std::vector<PathEvent> changes = ChangesInRows(program.rows);
  std::size_t next = 0;
  for (std::size_t i = 0; i < program.rows.size(); ++i) {
    for (; next < changes.size() && changes[next].before == static_cast<int>(i); ++next) {
      program.events.push_back(changes[next]);
    }
    const double dwell_s = path[i].dwell_s;
    if (dwell_s > 0.0) program.events.push_back(Order(Kind::kDwell, i + 1, dwell_s));
    // The feed says the same where the tip travels.
    const bool travels = i > 0 && (path[i].p_ST - path[i - 1].p_ST).norm() > kinematics::kNoTravel_mm;
    if (travels) program.rows[i].duration_s.reset();
  }
  return program;
}

std::vector<std::string> LeftOutOfTable(const Job& job) {
  std::vector<std::string> left_out;
  const auto add = [&](const char* what, auto is_it) {
    for (const PathEvent& event : job.events) {
      if (is_it(event)) return left_out.emplace_back(what), void();
    }
  };
  add("coolant", [](const PathEvent& e) { return e.kind == Kind::kCoolant; });
  add("stops for a person", [](const PathEvent& e) { return e.kind == Kind::kStop || e.kind == Kind::kOptionalStop; });
  add("lengths and shapes of cutters",
      [](const PathEvent& e) { return e.kind == Kind::kToolLength || e.kind == Kind::kCutterShape; });
  add("a wait before the first point", [](const PathEvent& e) { return IsDwell(e) && e.before == 0; });
  return left_out;
}

// The orders of the path, with those added that its own file left to defaults or
// to what another order implies: program words must say them.
PathProgram OrdersProgram(const Job& job, std::vector<PoseRow> rows) {
  PathProgram program;
  program.rows = std::move(rows);
  std::optional<double> tool, speed_rpm;
  std::size_t next = 0;
  const auto take = [&](const PathEvent& event) {
    if (event.kind == Kind::kTool) tool = event.value;
    if (event.kind == Kind::kSpindle) speed_rpm = event.value;
    program.events.push_back(event);
  };
  for (std::size_t i = 0; i <= program.rows.size(); ++i) {
    for (; next < job.events.size() && job.events[next].before == static_cast<int>(i); ++next) {
      take(job.events[next]);
    }
    if (i == program.rows.size()) break;
    const PoseRow& row = program.rows[i];
    if (tool != static_cast<double>(row.tool)) take(Order(Kind::kTool, i, row.tool));
    if (speed_rpm != row.spindle_rpm) take(Order(Kind::kSpindle, i, row.spindle_rpm));
  }
  return program;
}

std::string TableText(const Job& job, const std::vector<PoseRow>& rows, const std::vector<std::string>& left_out) {
  std::string text = "# the path with the orientations that were planned; path: {format: pose_table}, spin: {rule: as_written}\n";
  for (const std::string& what : left_out) text += "# left out, since a pose table has no column for it: " + what + "\n";
  return text + PoseTableOf(job.path, rows);
}

// A tool change stops the spindle here; the order that starts it again follows it.
std::string IsoText(const Job& job, const std::vector<PoseRow>& rows) {
  IsoWriterOptions options;
  options.axis = IsoWriterOptions::Axis::kWhole;
  const PathProgram program = OrdersProgram(job, rows);
  std::ostringstream out;
  WriteIso6983(program.rows, program.events, options, out);
  const std::string text = out.str(), first = "%\n";
  return first +
         "(the path with the orientations that were planned; path: format iso6983,)\n"
         "(rotary: order [C, B, A], turns tool; spin: rule as_written)\n" + text.substr(first.size());
}

std::string StatementsText(const Job& job, const std::vector<PoseRow>& rows) {
  return "$$ the path with the orientations that were planned; path: {format: cutter_location,\n"
         "$$ second_vector: tool_x}, spin: {rule: as_written}\n" +
         CutterLocationText(OrdersProgram(job, rows));
}

void Write(const Job& job, const std::vector<PoseRow>& rows, PathCopyFile& file) {
  try {
    if (file.copy == PathCopy::kPoseTable) file.left_out = LeftOutOfTable(job);
    file.text = file.copy == PathCopy::kPoseTable ? TableText(job, rows, file.left_out)
                : file.copy == PathCopy::kIso6983 ? IsoText(job, rows)
                                                  : StatementsText(job, rows);
  } catch (const std::invalid_argument& error) {
    file.why_not = error.what();
  }
}

}  // namespace

const char* NameOfCopy(PathCopy copy) {
  switch (copy) {
    case PathCopy::kJointPath: return "joint_path.csv";
    case PathCopy::kPoseTable: return "path.csv";
    case PathCopy::kIso6983: return "path.iso";
    case PathCopy::kCutterLocation: break;
  }
  return "path.cl";
}

PoseRow RowOf(const Cell& cell, const PathLine& line, const Eigen::Matrix3d& R_ST) {
  PoseRow row;
  row.line = line.line;
  row.axis_S = R_ST.col(2);
  row.R_ST = R_ST;
  row.p_SQ = line.p_ST + cell.cutters.at(line.tool).control_height_mm * row.axis_S;
  row.feed_mm_s = line.feed_mm_s;
  row.duration_s = line.duration_s;
  row.spindle_rpm = line.spindle_rpm;
  row.tool = line.tool;
  row.move = line.move;
  return row;
}

std::string PoseTableOf(const kinematics::ToolPath& path, std::vector<PoseRow> rows) {
  return PoseTableText(TableProgram(path, std::move(rows)));
}

std::vector<PathCopyFile> WritePathCopies(const Job& job,
                                          const std::vector<Eigen::Matrix3d>& R_ST_per_line) {
  std::vector<PathCopyFile> files;
  std::vector<PoseRow> rows;
  const bool planned = R_ST_per_line.size() == job.path.size();
  for (std::size_t i = 0; planned && i < job.path.size(); ++i) {
    rows.push_back(RowOf(job.cell, job.path[i], R_ST_per_line[i]));
  }
  for (const PathCopy copy : job.write) {
    if (copy == PathCopy::kJointPath) continue;
    PathCopyFile file;
    file.copy = copy;
    file.file = NameOfCopy(copy);
    if (planned) {
      Write(job, rows, file);
    } else {
      file.why_not = "the path was not planned to its end, so its orientations are not known";
    }
    files.push_back(std::move(file));
  }
  return files;
}

}  // namespace aircut::sim
