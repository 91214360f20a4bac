#pragma once

#include <cmath>
#include <memory>

#include "sim/mesh_index.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// The finishing workload of design.md section 9: a ball of radius 3 mm over a
/// 200 x 200 x 40 mm block (top at z = 0), rows 0.5 mm apart, points 0.5 mm
/// apart, about 2 mm deep on a gentle wave. 401 rows: 160,800 sweeps.
inline ToolTrack BallFinishing(int rows) {
  ToolTrack track;
  track.tools.push_back({1, Cutter::Ball(6.0, 22.0), {}});
  for (int row = 0; row < rows; ++row) {
    for (int n = 0; n <= 400; ++n) {
      const double x = 0.5 * (row % 2 == 0 ? n : 400 - n), y = 0.5 * row;
      const double z = -2.0 + 0.8 * std::sin(x / 15.0) * std::cos(y / 20.0);
      track.p_ST.push_back({x, y, z});
      track.axis_S.push_back(Eigen::Vector3d::UnitZ());
      track.time_s.push_back(0.02 * static_cast<double>(track.time_s.size()));
    }
  }
  track.sweeps.resize(track.p_ST.size() - 1);
  return track;
}

/// The same way with another cutter.
inline ToolTrack Finishing(const Cutter& cutter, int rows) {
  ToolTrack track = BallFinishing(rows);
  track.tools[0].cutter = cutter;
  return track;
}

/// The same in five axes: the axis leans by up to 16 degrees and turns by up to 0.4
/// degrees a sweep.
inline ToolTrack LeaningFinishing(const Cutter& cutter, int rows) {
  ToolTrack track = Finishing(cutter, rows);
  for (std::size_t i = 0; i < track.p_ST.size(); ++i) {
    const Eigen::Vector3d& p = track.p_ST[i];
    track.axis_S[i] = Eigen::Vector3d(0.2 * std::sin(p.x() / 15.0), 0.2 * std::cos(p.y() / 20.0), 1.0).normalized();
  }
  return track;
}

inline std::shared_ptr<const MeshIndex> FinishingBlock() {
  return std::make_shared<const MeshIndex>(BoxMesh({0.0, 0.0, -40.0}, {200.0, 200.0, 0.0}));
}

/// Exact height of the swept surface over (x, y): the lowest point of any
/// capsule of the track there, by golden section in long double.
inline long double SweptHeight(const ToolTrack& track, double x, double y) {
  const long double r = track.tools[0].cutter.radius_mm();
  long double least = 0.0L;   // the block's top
  for (std::size_t i = 0; i + 1 < track.p_ST.size(); ++i) {
    const Eigen::Vector3d &a = track.p_ST[i], &b = track.p_ST[i + 1];
    const double near = r + (b - a).norm();
    if (std::abs(a.x() - x) > near || std::abs(a.y() - y) > near) continue;
    const auto height = [&](long double t) {
      const long double dx = a.x() + t * (b.x() - a.x()) - x, dy = a.y() + t * (b.y() - a.y()) - y;
      const long double gap = r * r - dx * dx - dy * dy;
      const long double centre = a.z() + t * (b.z() - a.z()) + r;
      return gap > 0.0L ? centre - std::sqrt(gap) : 1e3L + (-gap);
    };
    long double lo = 0.0L, hi = 1.0L;
    const long double golden = 0.6180339887498948482L;
    for (int n = 0; n < 80; ++n) {
      const long double c = hi - golden * (hi - lo), d = lo + golden * (hi - lo);
      if (height(c) < height(d)) hi = d; else lo = c;
    }
    least = std::min(least, std::min(height(0.5L * (lo + hi)), std::min(height(0.0L), height(1.0L))));
  }
  return least;
}

}  // namespace aircut::sim
