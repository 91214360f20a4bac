#pragma once

#include <string>
#include <vector>

#include "kinematics/motion.h"
#include "sim/job.h"
#include "sim/path_program.h"

namespace aircut::sim {

/// The path with the orientations that were planned, in one of the path formats.
struct PathCopyFile {
  PathCopy copy = PathCopy::kPoseTable;
  std::string file;          ///< name in the report folder
  std::string text;          ///< empty where it cannot be said
  std::string why_not;       ///< one sentence where `text` is empty
  std::vector<std::string> left_out;   ///< orders that this format has no word for
};

/// A path line as a path file would have it: the control point of its cutter in S.
/// @param R_ST orientation of the tool. Reading the row back with the same cell
/// gives the line's tip end again.
PoseRow RowOf(const Cell& cell, const kinematics::PathLine& line, const Eigen::Matrix3d& R_ST);

/// @returns the rows of a path's lines, one a line, as a pose table, the waits of
/// the lines after them. @throws std::invalid_argument as PoseTableText.
std::string PoseTableOf(const kinematics::ToolPath& path, std::vector<PoseRow> rows);

/// The job's path with the planned orientations as the copies that `job.write`
/// names, joint_path left aside: that one is a table of moments. Each text says
/// at its head how a job must declare it; read back so, it gives the same poses,
/// feeds, cutters, speeds, moves and dwells, within the bounds of the writers.
/// @param R_ST_per_line planned orientations; empty where the path was not planned.
std::vector<PathCopyFile> WritePathCopies(const Job& job,
                                          const std::vector<Eigen::Matrix3d>& R_ST_per_line);

/// @returns the name that a copy has in the report folder.
const char* NameOfCopy(PathCopy copy);

}  // namespace aircut::sim
