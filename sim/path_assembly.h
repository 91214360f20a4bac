#pragma once

#include <string>
#include <vector>

#include "sim/cell.h"
#include "sim/path_source.h"

namespace aircut::sim {

/// Turns the rows and events of a path file, as written, into the path that is
/// planned: tip ends in S as the controller believes them. Rows and events must
/// come in file order.
class PathAssembly {
 public:
  /// @param cell whose cutters the path names; must outlive the assembly.
  /// @param X_SP the path's own frame in S. @param label names the file in messages.
  PathAssembly(const Cell& cell, const kinematics::Pose& X_SP, std::string label);

  /// The tip end lies below the control point by the cutter's control height; with a
  /// length offset in force the collet nut stands that far above the point as written,
  /// so the tip end lies (offset - stick-out) above it along the axis. Where the row
  /// states its time, the feed is that of the tip end over that time.
  /// @throws InputError naming the line if the cutter is unknown or cannot be computed.
  void Add(const PoseRow& row);
  /// Sets `before`. A dwell also makes the row before it wait; one before the first
  /// row is an event only. @throws InputError for a tool that the cell does not have.
  void Add(PathEvent event);

  kinematics::ToolPath TakePath() { return std::move(path_); }
  std::vector<PathEvent> TakeEvents() { return std::move(events_); }

 private:
  const CellCutter& CutterOf(const PoseRow& row) const;
  void RequireCutter(int tool, int line) const;

  const Cell& cell_;
  kinematics::Pose X_SP_;
  std::string label_;
  kinematics::ToolPath path_;
  std::vector<PathEvent> events_;
};

}  // namespace aircut::sim
