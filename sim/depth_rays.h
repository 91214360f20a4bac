#pragma once

#include <vector>

#include "sim/mesh_index.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// A ray along the depth direction of one design sample.
struct DepthRay {
  Eigen::Vector3d p_SQ;      ///< point of the design surface [mm]
  Eigen::Vector3d up_S;      ///< unit, out of the material
};

struct RayDepth {
  bool has_material = false;   ///< the starting material holds (or touches) the sample
  double stock_top_mm = 0.0;   ///< start of the material above the sample, along up (+)
  double top_mm = 0.0;         ///< what is left: + left standing, - cut below the sample
  double bottom_mm = 0.0;      ///< other side of that piece of material (negative)
  bool touched = false;        ///< some sweep removed material of this ray
  bool cut_through = false;    ///< nothing of that piece of material is left
  int sweep = -1;              ///< the sweep that cut deepest here, -1 = none
};

/// Exact depth along rays: the material interval of the starting solid that
/// holds each sample, clipped by every sweep of the cutter, in double.
/// Error bound kRayBound_mm for fixed axes and axes that turn <= 0.5 degrees a sweep.
inline constexpr double kRayBound_mm = 1e-3;

/// @param slack_mm a sample this far outside the starting solid still counts as on it.
std::vector<RayDepth> CutRays(const MeshIndex& solid_S, const ToolTrack& track,
                              const std::vector<DepthRay>& rays, double slack_mm, int threads);

}  // namespace aircut::sim
