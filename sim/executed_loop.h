#pragma once

#include <optional>
#include <vector>

#include "sim/dry_run.h"

namespace aircut::sim {

/// A cut by the tool where it really is, and how it was found.
struct ExecutedCut {
  Execution execution;
  ToolTrack track;
  GridCut cut;
  CuttingLoad load;
  std::vector<RayDepth> depths;        ///< one per ray
};

/// Most cuts with a displaced tool; what has not settled by then is told.
inline constexpr int kMostRecuts = 5;

/// Forces, displacements, the displaced track, the cut again, until the 95th percentile of
/// what depth map and displacement still move is at most a tenth of the depth tolerance.
/// The first guess lets a force grow with the depth of its bite, as springs in series; later
/// ones go on by the secant of every sweep's own displacement (Aitken's rule).
/// @param run planned, cut and loaded as commanded, with its samples.
/// @param rays one per sample. @returns Execution, and depths or none, where nothing displaces the tool.
ExecutedCut CutAsExecuted(const Job& job, const RunOptions& options, const Run& run,
                          const std::vector<DepthRay>& rays);

/// Slack of CutRays for a design that follows the face of a facetted scan [mm].
inline constexpr double kFaceSlack_mm = 1.0;

}  // namespace aircut::sim
