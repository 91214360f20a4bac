#pragma once

#include <string>
#include <vector>

#include "sim/cell.h"

namespace aircut::support {

/// Points of a frame fit found exactly where X_WS puts them, named P1, P2, ... in
/// lines 2, 3, ...
inline std::vector<sim::FitPoint> FitPointsAt(const std::vector<Eigen::Vector3d>& places_S,
                                              const kinematics::Pose& X_WS) {
  std::vector<sim::FitPoint> points;
  for (const Eigen::Vector3d& p_S : places_S) {
    sim::FitPoint point;
    point.name = "P" + std::to_string(points.size() + 1);
    point.line = static_cast<int>(points.size()) + 2;
    point.p_S = p_S;
    point.p_W = X_WS * p_S;
    points.push_back(point);
  }
  return points;
}

}  // namespace aircut::support
