#pragma once

#include <cstdint>
#include <vector>

#include "sim/mesh.h"

namespace aircut::sim {

/// Where a face of the stock's solid comes from.
enum class FaceOrigin : std::uint8_t {
  kGiven,   ///< the mesh file
  kBridge,  ///< closes a hole of it: nothing is known there
  kSkirt,   ///< from the rim of an open scan down to its back
  kBack     ///< behind an open scan
};

/// What was wrong with a surface. Nothing of it is mended without being said.
struct MeshDefects {
  int duplicate = 0;       ///< triangles that stand there twice
  int degenerate = 0;      ///< triangles without area
  int flipped = 0;         ///< triangles turned the other way than those around them
  int crowded_edges = 0;   ///< edges of more than two triangles, or two that cannot be turned alike
  int enclosed = 0;        ///< triangles that other parts of the surface enclose or cross
  int loose_parts = 0;     ///< small pieces beside an open scan, left out
  int holes = 0;           ///< bridged
  double hole_mm2 = 0.0;   ///< area of the bridges
  bool any() const {
    return duplicate + degenerate + flipped + crowded_edges + enclosed + loose_parts + holes > 0;
  }
};

/// Triangles with their origins, one each.
struct MendedMesh {
  Mesh mesh;
  std::vector<FaceOrigin> origin;
  MeshDefects defects;
};

/// Leaves out triangles without area and all but the first of those between the same
/// three corners; turns triangles so that neighbours go the same way round, in each
/// connected part the smaller area giving in. Whether a part as a whole looks inwards is
/// not judged here.
/// @param mesh welded (see Welded). Cost n log n.
MendedMesh Tidied(const Mesh& mesh);

/// A closed way along edges where the surface ends, each edge in its triangle's sense.
using BorderCycle = std::vector<std::int32_t>;

/// Edges that are used more often one way than the other, chained to cycles. Whatever
/// the surface, closing every cycle makes it a closed chain: whole winding numbers.
std::vector<BorderCycle> BorderCycles(const Mesh& mesh);

/// Area vector of a closed polygon [mm2]; its z is what the polygon holds seen from +z,
/// positive anti-clockwise.
Eigen::Vector3d AreaVector(const Mesh& mesh, const BorderCycle& cycle);

/// Triangles that close a border, facing as the surface around does: ears cut off as
/// seen against `look` where the border is a simple polygon that way, of at most 3,000
/// corners; else a fan.
std::vector<std::array<std::int32_t, 3>> BridgeOf(const Mesh& mesh, const BorderCycle& cycle,
                                                  const Eigen::Vector3d& look);

/// Appends a bridge over each of the border cycles; counts and marks it.
/// @param look unit: from where the holes are seen; zero: each against its own area.
void BridgeHoles(const std::vector<BorderCycle>& holes, const Eigen::Vector3d& look, MendedMesh& mended);

}  // namespace aircut::sim
