#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/profile_pieces.h"

namespace aircut::sim {

/// A convex solid of revolution about the tool axis, by its profile in the (r, z)
/// half plane of T. Its signed distance is the largest over the lines of the
/// distance to each and, over the arcs whose sector holds the point, of the
/// distance to the arc: lines alone decide inside, arcs and corners outside.
struct ConvexProfile {
  std::vector<ProfileLine<double>> lines;
  std::vector<ProfileArc<double>> arcs;
  std::vector<ProfileLine<float>> lines_f;   ///< the same for the kernels
  std::vector<ProfileArc<float>> arcs_f;
  double z0_mm = 0, z1_mm = 0;               ///< lowest and highest point
  double radius_mm = 0;                      ///< largest r
  double far_mm = 0;                         ///< no point is farther from the tip end

  /// Upper bound of the radius [mm] of the part at or below a height.
  double WidestBelow(double z_mm) const;
};

/// Signed distance [mm], negative inside, and its gradient in (r, z), a unit vector.
struct ProfileDistance {
  double distance_mm = 0;
  Eigen::Vector2d out;
};
ProfileDistance DistanceToProfile(const ConvexProfile& profile, double r_mm, double z_mm);

}  // namespace aircut::sim
