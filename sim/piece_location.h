#pragma once

#include <vector>

#include "kinematics/frame.h"
#include "sim/mesh_index.h"

namespace aircut::sim {

/// Where the touched points put the workpiece.
struct PieceLocation {
  bool given = false;             ///< at least one touched point
  int points = 0;
  int directions_seen = 0;        ///< of the 6 ways a piece can lie, how many the points settle
  kinematics::Pose X_SA = kinematics::Pose::Identity();  ///< actual piece in the believed frame S
  double before_mm = 0.0;         ///< largest distance of a point from the scan at the believed frame
  double residual_mm = 0.0;       ///< largest distance left after the fit
  double rms_mm = 0.0;            ///< of the residuals
  Eigen::Vector3d worst_p_S = Eigen::Vector3d::Zero();   ///< the point with `before_mm`
  double worst_signed_mm = 0.0;   ///< its signed distance: + above the scanned surface
};

/// Fits the stock surface to the touched points: least squares of the distances
/// to the surface, moved only in the directions that the points settle
/// (singular values below 5 % of the largest are left where they are).
/// @param touched_S points in the believed frame S [mm].
PieceLocation LocatePiece(const MeshIndex& stock_S, const std::vector<Eigen::Vector3d>& touched_S);

}  // namespace aircut::sim
