#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/motion.h"
#include "sim/clearance.h"
#include "sim/depth_rays.h"
#include "sim/job.h"
#include "sim/piece_location.h"
#include "sim/swept_cut.h"

namespace aircut::sim {

struct RunOptions {
  double resolution_mm = 0.25;
  int threads = 2;
  std::function<void(const std::string& stage, double fraction)> progress;
};

/// One place of the design surface and what the cut leaves there.
struct DesignSample {
  DepthRay ray;
  double area_mm2 = 0.0;
  enum class Role {
    kCarve,      ///< depth counts both ways
    kSpare       ///< only cutting below it counts (the face beside the carving)
  } role = Role::kCarve;
  int path_index = -1;       ///< nearest path line, for engraving; -1 = none
};

/// Everything a dry run computed; immutable once made.
struct Run {
  kinematics::Motion motion;
  PieceLocation location;                  ///< where the touched points put the piece
  kinematics::Pose X_WS_actual = kinematics::Pose::Identity();
  bool executed = false;                   ///< track comes from the motion; else from the written path
  ToolTrack track;                         ///< tool in S as the piece really lies
  GridCut cut;
  std::vector<DesignSample> samples;
  std::vector<RayDepth> depths;            ///< per sample
  std::vector<float> grid_gap_mm;          ///< per sample: grid distance at the exact ray top; NaN = none
  std::optional<CollisionWorld> world;
  std::vector<PairClearance> clearances;
  std::map<std::string, double> stage_s;   ///< wall time per stage
};

/// Plans, cuts and measures. Throws InputError only for a memory limit.
Run Execute(const Job& job, const RunOptions& options);

}  // namespace aircut::sim
