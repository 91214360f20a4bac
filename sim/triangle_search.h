#pragma once

#include <array>
#include <vector>

#include "sim/box_tree.h"
#include "sim/flat_triangle.h"
#include "sim/mesh.h"
#include "sim/mesh_normals.h"

namespace aircut::sim {

/// Exact searches among the triangles of a mesh: what MeshIndex and the mesh
/// shapes of CollisionWorld stand on. "Place" is a triangle's index in tree
/// order. Immutable once built.
struct TriangleSearch {
  Mesh mesh;
  Eigen::AlignedBox3d box;
  BoxTree tree;
  std::vector<FlatTriangle> flat;   ///< in tree order
  MeshNormals normals;              ///< in the mesh's order

  /// @throws std::invalid_argument if the mesh has no triangle, an index out of
  /// range or a value that is not finite.
  explicit TriangleSearch(Mesh mesh_in);

  struct Nearest {
    int place = -1;                 ///< -1: nothing within the radius
    FlatClosest closest;
  };
  /// @returns the nearest triangle within `within_mm` of p.
  Nearest Find(const Eigen::Vector3d& p, double within_mm) const;

  /// @returns the places of all triangles within `reach_mm` of p; empty when
  /// there are more than `most`.
  std::vector<int> Within(const Eigen::Vector3d& p, double reach_mm, int most) const;

  /// @returns true if p lies inside, by the pseudo-normal at its closest point.
  bool Inside(const Eigen::Vector3d& p, int place, const FlatClosest& closest) const;

  std::array<Eigen::Vector3d, 3> Corners(int triangle) const {
    const auto& t = mesh.triangles[triangle];
    return {mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]};
  }
};

}  // namespace aircut::sim
