#pragma once

#include <optional>
#include <vector>

#include "sim/dense_poses.h"
#include "sim/design_samples.h"
#include "sim/finer_grid.h"
#include "sim/stock.h"

namespace aircut::sim {

/// The samples on which the third computation of depth is held against the rays.
struct DepthGuard {
  std::vector<int> samples;       ///< ascending
  double worst_gap_mm = 0.0;      ///< of rays and dense poses, beyond what the dense poses leave open
  int worst_sample = -1;
  std::vector<int> beyond;        ///< samples on which the gap is larger than kRayBound_mm
};

/// What the depth was computed from.
struct DepthInputs {
  const ToolTrack& track;
  const std::vector<CutterOutline>& outlines;   ///< one per tool of the track
  const std::vector<DesignSample>& samples;
  const std::vector<RayDepth>& depths;          ///< per sample
  const std::vector<GridGap>& grid_gaps;         ///< per sample
};

/// Compares on `most` samples in material or fewer: seven tenths evenly over those that
/// the rays say were touched, two where grid and rays differ most, one evenly over those
/// that they say were not. The same samples for the same input.
DepthGuard GuardDepth(const DepthInputs& in, int most, int threads);

/// How the grid's error falls as its voxels are halved, at one place of the job.
struct Convergence {
  int sweep = -1;              ///< of the pass that was cut alone
  Eigen::Vector3d at_S = Eigen::Vector3d::Zero();
  double voxel_mm = 0.0;
  int samples = 0;
  double coarse_rms_mm = 0.0;  ///< of the grid against the rays with voxel_mm
  double fine_rms_mm = 0.0;    ///< the same with half of it
  /// log2 of their ratio; nothing where the coarse one is already within rounding.
  std::optional<double> order() const;
};

/// Cuts a small block at the middle sample that was touched with the one pass that cut
/// deepest there, so that the cut has no crease; places on it between 0.3 and 0.7 of the
/// cutter's radius beside the pass are compared. Nothing where no such place is found.
std::optional<Convergence> FindConvergence(const DepthInputs& in, double voxel_mm, int threads);

}  // namespace aircut::sim
