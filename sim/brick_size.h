#pragma once

namespace aircut::sim {

/// Voxels along one edge of a brick.
inline constexpr int kBrickEdge = 8;
inline constexpr int kBrickVoxels = kBrickEdge * kBrickEdge * kBrickEdge;

}  // namespace aircut::sim
