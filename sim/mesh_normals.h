#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "sim/mesh.h"

namespace aircut::sim {

/// @returns per vertex the number of its place; vertices at exactly the same
/// place share a number (STL has no topology).
std::vector<std::int32_t> PlaceOfVertices(const Mesh& mesh);

/// Angle-weighted pseudo-normals of a mesh, not normalised (only their side
/// matters). Source: Baerentzen and Aanaes, IEEE TVCG 11(3) 2005.
struct MeshNormals {
  std::vector<Eigen::Vector3d> place;                     ///< per place
  std::vector<Eigen::Vector3d> edge;                      ///< per edge
  std::vector<std::array<std::int32_t, 3>> place_of;      ///< per triangle corner
  std::vector<std::array<std::int32_t, 3>> edge_of;       ///< per triangle side k to k + 1
};

MeshNormals PseudoNormals(const Mesh& mesh);

}  // namespace aircut::sim
