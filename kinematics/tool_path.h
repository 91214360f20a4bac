#pragma once

#include <optional>
#include <vector>

#include "kinematics/frame.h"

namespace aircut::kinematics {

enum class MoveKind { kCut, kRapid };

/// One target of the tool path: the pose line and what happens on the way to it.
struct PathLine {
  int line = 0;                 ///< number of the line in its file, from 1
  Eigen::Vector3d p_ST = Eigen::Vector3d::Zero();        ///< tip end, in S [mm]
  Eigen::Vector3d axis_S = Eigen::Vector3d::UnitZ();     ///< unit tool axis, tip to spindle
  std::optional<Eigen::Matrix3d> R_ST;  ///< full orientation where the file states it
  double feed_mm_s = 0.0;       ///< feed of the move that ends here; > 0 for a cut
  MoveKind move = MoveKind::kCut;
  double spindle_rpm = 0.0;     ///< + clockwise seen from the spindle, 0 = stopped
  int tool = 0;                 ///< number of the cutter in the cell
  /// Written time of the move that ends here (inverse-time feed); a cut with it
  /// has feed_mm_s = travel / duration where the tip travels.
  std::optional<double> duration_s;
  double dwell_s = 0.0;         ///< the arm waits here before it moves on, >= 0
};

using ToolPath = std::vector<PathLine>;

}  // namespace aircut::kinematics
