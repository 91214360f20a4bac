#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "kinematics/frame.h"

namespace aircut::tools {

/// One line of a pose table: the cutter's tip end in S and what happens on the
/// way to it.
struct ScenePose {
  Eigen::Vector3d p_ST = Eigen::Vector3d::Zero();      ///< [mm]
  Eigen::Vector3d axis_S = Eigen::Vector3d::UnitZ();   ///< unit, tip to spindle
  double feed_mm_min = 0.0;
  enum class Move { kCut, kRapid } move = Move::kCut;
  double dwell_s = 0.0;            ///< wait at the line
};

struct PoseTable {
  std::vector<std::string> remarks;   ///< written as comments before the header
  std::vector<ScenePose> poses;
  double spindle_rpm = 0.0;
  int tool = 1;
};

/// Writes a pose table as CSV. @throws std::runtime_error if the file cannot be written.
void WritePoseTable(const std::filesystem::path& file, const PoseTable& table);

/// Writes touched points, in W [mm]. @throws std::runtime_error as above.
void WriteTouched(const std::filesystem::path& file, const std::vector<Eigen::Vector3d>& points_W);

/// A pose of the arm as its panel shows it.
struct PanelReadout {
  std::vector<double> joints_deg;
  kinematics::Pose X_BF = kinematics::Pose::Identity();
};

/// A named point in two frames [mm].
struct NamedPair {
  std::string name;
  Eigen::Vector3d p_S, p_W;
};

/// Writes read-outs. @throws std::runtime_error as above.
void WriteReadouts(const std::filesystem::path& file, const std::vector<PanelReadout>& rows);

/// Writes the points of a frame fit. @throws std::runtime_error as above.
void WriteFitPoints(const std::filesystem::path& file, const std::vector<NamedPair>& pairs);

/// Writes `text` as it stands. @throws std::runtime_error as above.
void WriteText(const std::filesystem::path& file, const std::string& text);

/// @returns `value` with a fixed count of decimals, never "-0.000".
std::string Fixed(double value, int decimals);

/// @returns `value` on the lattice of 0.1 micrometre, so that files come out
/// alike whatever the last bit of a sine was.
double OnLattice(double value);

}  // namespace aircut::tools
