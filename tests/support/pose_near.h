#pragma once

#include <algorithm>
#include <cmath>
#include <ostream>

#include <gmock/gmock.h>

#include "kinematics/frame.h"

namespace aircut::support {

/// Angle [rad] of the rotation between two orientations, exact also for tiny
/// angles (the arc cosine of the trace is not): |R1 - R2| = 2 sqrt(2) sin(angle / 2).
inline double AngleBetween(const Eigen::Matrix3d& R1, const Eigen::Matrix3d& R2) {
  return 2.0 * std::asin(std::min(1.0, (R1 - R2).norm() / (2.0 * std::sqrt(2.0))));
}

/// Matches a pose within `mm` of `X` in position and `rad` in orientation; NaN never matches.
MATCHER_P3(PoseNear, X, mm, rad, "is near the pose") {
  const double gap_mm = (arg.translation() - X.translation()).norm();
  const double turn_rad = AngleBetween(arg.linear(), X.linear());
  *result_listener << "off by " << gap_mm << " mm and " << turn_rad << " rad";
  return gap_mm <= mm && turn_rad <= rad;
}

}  // namespace aircut::support
