#pragma once

#include <string>
#include <vector>

#include <Eigen/Geometry>

#include "sim/track_clearance.h"

namespace aircut::sim {

/// Greatest speed beside a moving arm: reduced speed of ISO 10218-1.
/// Source: external-checks SAF-01.
inline constexpr double kReducedSpeed_mm_s = 250.0;
/// The pass is planned a little below, so that the numerical error of the time law
/// decides nothing.
inline constexpr double kSlowPlanned_mm_s = 240.0;
/// The time law keeps a limit within this share of it between its nodes.
inline constexpr double kSlowOvershoot = 0.005;

/// The fastest of the tip and the origins of the links.
struct FastestPoint {
  double speed_mm_s = 0.0;   ///< mean between two moments, or the tip's at one: never above the truth
  int link = 0;              ///< from 1; 0 = the tip
  int line = 0;
};

/// The slow pass through the air: the path raised, spindle stopped, against the
/// uncut piece.
struct AirPass {
  double raise_mm = 0.0;
  Eigen::Vector3d along_S = Eigen::Vector3d::UnitZ();
  bool raise_assumed = false, along_assumed = false;
  std::string why_not;                 ///< one sentence where nothing was planned
  /// Raised, with the orientations of the job's motion. Straight rapids have
  /// become moves at a feed; the feed of every line keeps the tip and the origins
  /// of all links at kSlowPlanned_mm_s at most.
  kinematics::ToolPath path;
  int joint_rapids = 0;                ///< lines that stay rapids, since they are joint moves
  int turns_on_the_spot = 0;           ///< lines whose tip rests: no feed can slow them
  kinematics::Motion motion;           ///< tracks[0] is named "slow air pass"
  FastestPoint fastest;
  std::vector<FastestPoint> fastest_of;    ///< [0] the tip, then the origin of each link; as `fastest`
  /// Fastest point of what stands on the axes under the work, between two ends; both
  /// 0 where those axes stand still.
  double work_at_least_mm_s = 0.0, work_at_most_mm_s = 0.0;
  std::vector<PairClearance> clearances;   ///< all pairs of the job, and the tool against the piece
  Eigen::AlignedBox3d swept_W;             ///< holds the tool and all that the arm and a moving table carry
  bool planned() const { return why_not.empty() && motion.complete(); }
};

/// What the pass is made of.
struct AirPassTask {
  TrackClearanceTask cell;
  const std::vector<ClearancePair>& pairs;
  const std::vector<BodyKind>& kinds;
  const kinematics::PlanRequest& main;     ///< the job's own request
  const kinematics::Motion& motion;        ///< and what came of it
};

/// Plans and measures the pass; its own reach, range and clearance. Deterministic.
AirPass MakeAirPass(const AirPassTask& task);

/// The direction away from the piece where the job states none: the mean tool axis
/// of the cuts, unit; zero where the axes point too far apart to have one.
Eigen::Vector3d MeanToolAxis(const kinematics::ToolPath& path);

/// The text of slow_air_pass.csv, a pose table. Needs a planned pass.
std::string AirPassTable(const Job& job, const AirPass& pass);

}  // namespace aircut::sim
