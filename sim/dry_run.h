#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/motion.h"
#include "sim/air_pass.h"
#include "sim/body_kind.h"
#include "sim/clearance.h"
#include "sim/depth_rays.h"
#include "sim/design_samples.h"
#include "sim/job.h"
#include "sim/path_copy.h"
#include "sim/piece_location.h"
#include "sim/restart_run.h"
#include "sim/swept_cut.h"

namespace aircut::sim {

struct RunOptions {
  double resolution_mm = 0.25;
  int threads = 2;
  std::function<void(const std::string& stage, double fraction)> progress;
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
  double sample_spacing_mm = 0.0;
  std::vector<RayDepth> depths;            ///< per sample
  std::vector<float> grid_gap_mm;          ///< per sample: grid distance at the exact ray top; NaN = none
  std::optional<CollisionWorld> world;
  std::vector<BodyKind> body_kinds;        ///< one per body of the world
  std::vector<BodyMount> body_mounts;      ///< and what carries it
  std::vector<ClearancePair> body_pairs;   ///< that must stay apart
  /// Of every pair along the job's motion; then those of the moves beside the path.
  std::vector<PairClearance> clearances;
  std::vector<ClearanceStretch> clearance_over_time;   ///< along the job's motion; `pair` is of body_pairs
  std::optional<AirPass> air_pass;         ///< nothing: the path cannot be followed
  std::optional<RestartRun> restarts;      ///< nothing: the path cannot be followed
  std::vector<PathCopyFile> path_copies;   ///< those that the job asks for
  std::map<std::string, double> stage_s;   ///< wall time per stage
};

/// Plans, cuts and measures. Throws InputError only for a memory limit.
Run Execute(const Job& job, const RunOptions& options);

}  // namespace aircut::sim
