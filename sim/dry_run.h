#pragma once

#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "kinematics/motion.h"
#include "sim/air_pass.h"
#include "sim/body_kind.h"
#include "sim/clearance.h"
#include "sim/cutting_load.h"
#include "sim/depth_guard.h"
#include "sim/depth_rays.h"
#include "sim/design_samples.h"
#include "sim/error_layer.h"
#include "sim/execution.h"
#include "sim/finer_grid.h"
#include "sim/job.h"
#include "sim/path_copy.h"
#include "sim/piece_location.h"
#include "sim/restart_run.h"
#include "sim/resumed_cut.h"
#include "sim/swept_cut.h"
#include "sim/unseen_cut.h"

namespace aircut::sim {

struct RunOptions {
  double resolution_mm = 0.25;
  int threads = 2;
  ResumeRule resume;
  /// Path line before which posture and spin of the run kept in resume.folder stay as
  /// they are; nothing: the choice is made over the whole path.
  std::optional<int> keep_before_line;
  /// Error layers that are left out: a what-if. Without corner rounding the control stops
  /// exactly at every line.
  std::set<ErrorLayer> without;
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
  std::int32_t sweeps_taken_up = 0;        ///< of an earlier run's cut
  CuttingLoad load;                        ///< on the cutter, of that cut
  Execution execution;                     ///< what displaced the tool from the commanded path
  std::vector<DesignSample> samples;
  double sample_spacing_mm = 0.0;
  std::vector<RayDepth> depths;            ///< per sample
  std::vector<GridGap> grid_gaps;          ///< per sample: where grid and exact ray part
  DepthGuard guard;                        ///< the third computation of depth, on some samples
  /// Per sample: what no cutter of the path can take away there [mm]; empty: not reckoned.
  std::vector<double> unreachable_mm;
  std::optional<Convergence> convergence;  ///< of the grid, at one place
  /// Per sample 1 where the face above it was not scanned; empty: all of the stock was.
  std::vector<std::uint8_t> unseen;
  std::optional<UnseenCut> unseen_cut;     ///< for a stock made of an open scan
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

/// Plans, cuts and measures. Throws InputError for a memory limit, for a resolution
/// coarser than the stock is thin, and where nothing fitting is kept for
/// keep_before_line.
Run Execute(const Job& job, const RunOptions& options);

}  // namespace aircut::sim
