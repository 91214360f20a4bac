#pragma once

#include <vector>

#include "sim/depth_rays.h"
#include "sim/swept_cut.h"

namespace aircut::sim {

/// Distance that the grid tells at the surface which an exact ray found: both speak
/// of the same place, so it should be nothing.
struct GridGap {
  float gap_mm = 0.0f;      ///< NaN: not compared (not touched, or cut through)
  float voxel_mm = 0.0f;    ///< of the grid that told it
};

/// Compares grid and rays at every ray. Where they differ by more than a smooth face
/// lets them (kSmooth_voxel), at edges of the design and bottoms of pointed tools,
/// the grid is cut again with voxels half as large, the largest gaps first and as
/// many as kMostRefinedPlaces.
/// @param depths one per ray, of the same track.
std::vector<GridGap> CompareGridAndRays(const std::vector<DepthRay>& rays, const std::vector<RayDepth>& depths,
                                        const ToolTrack& track, const CutOptions& options, const Stock& stock);

/// Where faces are smooth a grid is this near to the truth. Source: design, section 1.
inline constexpr double kSmooth_voxel = 0.1;
inline constexpr std::size_t kMostRefinedPlaces = 20000;

}  // namespace aircut::sim
