#pragma once

namespace aircut::sim {

/// Voxels along one edge of a brick.
inline constexpr int kBrickEdge = 8;
inline constexpr int kBrickVoxels = kBrickEdge * kBrickEdge * kBrickEdge;

/// Distances are kept up to this many voxels either side of the surface.
inline constexpr double kTruncation_voxel = 2.5;

}  // namespace aircut::sim
