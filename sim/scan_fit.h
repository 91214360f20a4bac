#pragma once

#include <optional>
#include <vector>

#include "kinematics/frame.h"
#include "sim/mesh_index.h"

namespace aircut::sim {

/// The surface that a scan Q of the same piece is laid on.
struct FitSurface {
  const MeshIndex* surface_S = nullptr;
  std::vector<char> is_cut;        ///< per triangle: 1 = a cutter left it
};

/// Whether a scan was laid on the surface at all.
enum class ScanFitState {
  kSettled,
  kNotFound,     ///< no start led to a place where most of the scan lies on the surface
  kTwoWays       ///< another turn of the scan fits about as well
};

/// What a fit is worth. Residuals are along the surface's normal [mm].
struct ScanFit {
  ScanFitState state = ScanFitState::kNotFound;
  kinematics::Pose X_SQ = kinematics::Pose::Identity();
  bool as_it_lay = false;          ///< the scan came in the piece's frame, nearly
  int points = 0, used = 0;        ///< offered, and not left out as lying off the surface
  double rms_mm = 0.0;             ///< of the points used, the cut's own offset taken off
  double noise_mm = 0.0;           ///< standard deviation where nothing was cut, by its median
  /// Depth that all that was cut has in common, + = left standing: fitted with the
  /// pose, so that the pose does not take it up. Nothing: the scan shows too little
  /// that was not cut, and depths are known up to a common error only.
  std::optional<double> cut_offset_mm;
  int open_directions = 0;         ///< of six: shifts or turns that the surface does not hold
  std::optional<double> rival_turn_deg;   ///< the turn that fits about as well
};

/// Rigid least squares of points on planes (Chen and Medioni, Image and Vision
/// Computing 10(3) 1992), up to 20,000 points of the scan, each weighted down to
/// nothing by Tukey's biweight as it leaves the rest. From where the scan lies, and
/// from the turns that lay its principal axes on the surface's; the place where it
/// lies is kept unless another fits clearly better. The result does not depend on
/// threads.
/// @param scan_Q [mm], triangles outward.
ScanFit FitScan(const Mesh& scan_Q, const FitSurface& surface);

}  // namespace aircut::sim
