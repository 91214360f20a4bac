#pragma once

#include <vector>

#include "sim/cutter_outline.h"
#include "sim/depth_rays.h"

namespace aircut::sim {

/// Depth along one ray by dense poses. The true top lies between `top_mm - bound_mm` and
/// `top_mm`.
struct DenseDepth {
  double top_mm = 0.0;       ///< as RayDepth::top_mm; not below the end of the material
  double bound_mm = 0.0;     ///< what poses between those that were tried may still take
  bool touched = false;
};

/// The third computation of depth, for the few rays that guard the other two: it shares no
/// code with the sweeps, their binning or their kernels, only the tool's poses. Every sweep
/// that can reach a ray is halved again and again as long as poses in between could cut
/// deeper by more than kDensePose_mm; each pose cuts by exact line-cone and line-sphere
/// tests of the cutter's revolved outline, in long double. What a pose in between can take
/// is bounded by the outline grown by the farthest way that any point of it goes. Arcs off
/// the axis are chords of at most kDenseSag_mm sag, which the bound holds too.
/// Between two moments the tip moves on a line and the axis turns evenly.
/// @param outlines one per tool of the track.
/// @param starts what the rays were before any cut: stock_top_mm and bottom_mm are read;
/// a ray without material is not cut. As many as rays.
std::vector<DenseDepth> DepthByDensePoses(const ToolTrack& track, const std::vector<CutterOutline>& outlines,
                                          const std::vector<DepthRay>& rays,
                                          const std::vector<RayDepth>& starts, int threads);

inline constexpr double kDensePose_mm = 5e-4;
inline constexpr double kDenseSag_mm = 1e-4;

}  // namespace aircut::sim
