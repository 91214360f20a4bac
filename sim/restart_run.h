#pragma once

#include <optional>
#include <string>
#include <vector>

#include "kinematics/restart_planner.h"
#include "sim/track_clearance.h"

namespace aircut::sim {

/// A move beside the path and what it comes near to.
struct SideResult {
  kinematics::SideMove move;
  /// The pair that decides, where the move was solved.
  std::optional<PairClearance> nearest;
};

/// Places where a person may resume or draw the tool back, solved and measured.
struct RestartRun {
  double back_mm = 0.0;
  bool back_assumed = false;
  int cuts = 0, cut_lines = 0;             ///< of the path: what was chosen from
  std::vector<SideResult> restarts;        ///< in path order
  std::vector<SideResult> withdrawals;     ///< in path order
  /// For the checks: of every pair the nearest over all restarts and over all
  /// withdrawals, and every one besides that is not surely clear. What is farther
  /// than the search tells apart is left out. `during` names the move.
  std::vector<PairClearance> clearances;
};

struct RestartTask {
  TrackClearanceTask cell;
  const std::vector<ClearancePair>& pairs;
  const std::vector<BodyKind>& kinds;
  const kinematics::PlanRequest& main;
  const kinematics::Motion& motion;        ///< complete
};

/// Solves and measures them as `job.restarts` asks. On the way to the drawn-back
/// point everything must keep clear of the uncut piece; on the last way down, and
/// when drawing back, cutter, shank and holder move along their own axis and are
/// not held against it. Deterministic.
RestartRun SolveRestarts(const RestartTask& task);

/// Path indices of the first lines of cuts, at most `most`, the first and the last
/// among them where more than one is asked for, evenly chosen.
std::vector<std::size_t> StartsOfCuts(const kinematics::ToolPath& path, int most);

/// Path indices of cut lines to stop on, at most `most`, rising: the ends of every
/// cut before any line between them, each evenly chosen.
std::vector<std::size_t> StopsInCuts(const kinematics::ToolPath& path, int most);

}  // namespace aircut::sim
