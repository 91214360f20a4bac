#pragma once

#include <optional>
#include <vector>

#include "sim/mesh_index.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// A ray along the depth direction of one design sample.
struct DepthRay {
  Eigen::Vector3d p_SQ;      ///< point of the design surface [mm]
  Eigen::Vector3d up_S;      ///< unit, out of the material
};

/// What was cut out from under material that still stands, on one ray.
struct RayHollow {
  double top_mm = 0.0;         ///< upper end of the highest one
  double bottom_mm = 0.0;      ///< lower end of the lowest one
  int sweep = -1;              ///< that cut it lowest
};

struct RayDepth {
  double stock_top_mm = 0.0;   ///< start of the material above the sample, along up (+)
  double top_mm = 0.0;         ///< what is left: + left standing, - cut below the sample
  double bottom_mm = 0.0;      ///< other side of that piece of material (negative)
  int sweep = -1;              ///< the sweep that cut deepest here, -1 = none
  bool has_material = false;   ///< the starting material holds (or touches) the sample
  bool touched = false;        ///< some sweep removed material of this ray
  bool cut_through = false;    ///< nothing of that piece of material is left
  /// Below top_mm, where an undercut or a second wall of the cut crosses the ray;
  /// looked for down to kHollowsBelow_mm under the sample.
  std::optional<RayHollow> hollow;
};

/// Design samples are asked for hollows this far below them.
inline constexpr double kHollowsBelow_mm = 2.0;

/// Exact depth along rays: the material interval of the starting solid that
/// holds each sample, clipped by every sweep of the cutter, in double.
/// Error bound kRayBound_mm for fixed axes and axes that turn <= 0.5 degrees a sweep.
inline constexpr double kRayBound_mm = 1e-3;

/// @param slack_mm a sample this far outside the starting solid still counts as on it.
std::vector<RayDepth> CutRays(const MeshIndex& solid_S, const ToolTrack& track,
                              const std::vector<DepthRay>& rays, double slack_mm, int threads);

/// The same of rays that begin in the starting material, at the sample, and go down from it
/// by `length_mm`: material above it is taken as gone, what is cut from the sample on down is
/// `top_mm`, what is cut farther down, behind material that stands, is `hollow`. `bottom_mm`
/// is -length_mm where the starting material goes on.
std::vector<RayDepth> CutRaysFrom(const MeshIndex& solid_S, const ToolTrack& track,
                                  const std::vector<DepthRay>& rays, double length_mm, int threads);

}  // namespace aircut::sim
