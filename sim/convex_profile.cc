#include "sim/convex_profile.h"

#include <algorithm>
#include <cmath>

namespace aircut::sim {

double ConvexProfile::WidestBelow(double z_mm) const {
  double widest = radius_mm;
  for (const ProfileLine<double>& line : lines) {
    const bool widens = line.n_r > 1e-9 && line.n_z <= 0.0;
    if (widens) widest = std::min(widest, (line.offset - line.n_z * z_mm) / line.n_r);
  }
  return std::max(widest, 0.0);
}

ProfileDistance DistanceToProfile(const ConvexProfile& profile, double r, double z) {
  ProfileDistance nearest{-1e300, Eigen::Vector2d::Zero()};
  for (const ProfileLine<double>& line : profile.lines) {
    const double d = line.n_r * r + line.n_z * z - line.offset;
    if (d > nearest.distance_mm) nearest = {d, {line.n_r, line.n_z}};
  }
  for (const ProfileArc<double>& arc : profile.arcs) {
    const Eigen::Vector2d p(r - arc.r, z - arc.z);
    if (p.x() * arc.from_r + p.y() * arc.from_z < 0.0) continue;
    if (p.x() * arc.to_r + p.y() * arc.to_z > 0.0) continue;
    const double far = p.norm();
    if (far - arc.radius > nearest.distance_mm && far > 0.0) nearest = {far - arc.radius, p / far};
  }
  return nearest;
}

}  // namespace aircut::sim
