#pragma once

#include <memory>
#include <vector>

#include "sim/mesh_index.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// Block with its top at z = 0.
inline std::shared_ptr<const MeshIndex> Block(double length_x_mm, double length_y_mm, double height_mm) {
  return std::make_shared<const MeshIndex>(BoxMesh(
      {-0.5 * length_x_mm, -0.5 * length_y_mm, -height_mm}, {0.5 * length_x_mm, 0.5 * length_y_mm, 0.0}));
}

/// Track of one upright cutter through the given tip ends, one second a sweep.
inline ToolTrack UprightTrack(const Cutter& cutter, const std::vector<Eigen::Vector3d>& tips_S) {
  ToolTrack track;
  track.tools.push_back({1, cutter, {}});
  for (const Eigen::Vector3d& tip : tips_S) {
    track.p_ST.push_back(tip);
    track.axis_S.push_back(Eigen::Vector3d::UnitZ());
    track.time_s.push_back(static_cast<double>(track.time_s.size()));
  }
  track.sweeps.resize(tips_S.empty() ? 0 : tips_S.size() - 1);
  for (std::size_t i = 0; i < track.sweeps.size(); ++i) track.sweeps[i].line = static_cast<int>(i) + 2;
  return track;
}

}  // namespace aircut::sim
