#pragma once

#include <filesystem>

#include "kinematics/tool_path.h"

namespace aircut::sim {

/// One row of a pose table, as written (the control point, not yet the tip).
struct PoseRow {
  int line = 0;
  Eigen::Vector3d p_SQ = Eigen::Vector3d::Zero();       ///< control point [mm]
  Eigen::Vector3d axis_S = Eigen::Vector3d::UnitZ();    ///< unit, tip to spindle
  std::optional<Eigen::Matrix3d> R_ST;
  double feed_mm_s = 0.0;
  double spindle_rpm = 0.0;
  int tool = 0;
  kinematics::MoveKind move = kinematics::MoveKind::kCut;
};

/// Values for columns that the table does not have; the job states them.
struct PoseDefaults {
  std::optional<double> feed_mm_s, spindle_rpm;
  std::optional<int> tool;
};

/// Reads a pose table: CSV whose header names columns with units (x_mm, y_mm,
/// z_mm or _in; i,j,k or qw,qx,qy,qz; feed_mm_min or feed_in_min, spindle_rpm,
/// tool, move = cut | rapid). Lines that start with # are comments. Streams.
/// @throws InputError with file, line, column, value, what was expected.
std::vector<PoseRow> ReadPoseTable(const std::filesystem::path& file, const PoseDefaults& defaults);

}  // namespace aircut::sim
