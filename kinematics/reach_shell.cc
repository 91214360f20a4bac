#include "kinematics/reach_shell.h"

#include <cmath>
#include <limits>

namespace aircut::kinematics {

ReachShell::ReachShell(const ArmModel& arm) : geometry_(ReadOrthoParallelGeometry(arm)) {
  const double forearm_mm = std::hypot(geometry_.a2_mm, geometry_.c3_mm);
  outer_mm_ = geometry_.c2_mm + forearm_mm;
  inner_mm_ = std::abs(geometry_.c2_mm - forearm_mm);
}

double ReachShell::Beyond_mm(const Pose& X_BF) const {
  const Eigen::Vector3d p_PC = (geometry_.X_PB * X_BF * geometry_.X_FC).translation();
  const double from_axis_mm = std::hypot(p_PC.x(), p_PC.y());
  const double b_mm = std::abs(geometry_.b_mm);
  // Nearer to axis 1 than the arm's plane passes it.
  if (from_axis_mm < b_mm) return b_mm - from_axis_mm;
  const double in_plane_mm = std::sqrt(from_axis_mm * from_axis_mm - b_mm * b_mm);
  double least_mm = std::numeric_limits<double>::infinity();
  for (const double x_mm : {in_plane_mm, -in_plane_mm}) {  // turned towards it, and away
    const double rho_mm = std::hypot(x_mm - geometry_.a1_mm, p_PC.z());
    least_mm = std::fmin(least_mm, std::fmax(rho_mm - outer_mm_, inner_mm_ - rho_mm));
  }
  return least_mm;
}

}  // namespace aircut::kinematics
