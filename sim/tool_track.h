#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Core>

#include "sim/cutter.h"

namespace aircut::sim {

/// Solid of revolution that must not cut (shank, holder, spindle housing):
/// cylinder about the tool axis between two heights above the tip, in T.
struct BodyCylinder {
  double z0_mm = 0, z1_mm = 0, radius_mm = 0;
};

enum class SpindleState : std::uint8_t { kRight, kStopped, kTooSlow, kTooFast, kWrongWay };

/// The sweep from moment i to moment i + 1.
struct SweepInfo {
  std::int32_t line = 0;       ///< source line of the path, 0 = none
  std::int16_t tool = 0;       ///< index into ToolTrack::tools
  bool rapid = false;
  bool swap = false;           ///< cutters are changed here: no sweep at all
  SpindleState spindle = SpindleState::kRight;
};

/// A cutter with what turns above it.
struct TrackTool {
  int number = 0;                      ///< as in the cell
  Cutter cutter;
  std::vector<BodyCylinder> bodies;
};

/// Tool poses over time in S: all that removing material needs. Between two
/// moments the tip moves on a line and the axis turns evenly.
struct ToolTrack {
  std::vector<TrackTool> tools;
  std::vector<double> time_s;                 ///< N moments
  std::vector<Eigen::Vector3d> p_ST;          ///< N tip ends [mm]
  std::vector<Eigen::Vector3d> axis_S;        ///< N unit axes, tip to spindle
  std::vector<SweepInfo> sweeps;              ///< N - 1
};

}  // namespace aircut::sim
