#pragma once

#include <array>
#include <memory>
#include <vector>

#include "sim/box_tree.h"
#include "sim/flat_triangle.h"
#include "sim/mesh.h"
#include "sim/inside_by.h"
#include "sim/mesh_normals.h"
#include "sim/winding_number.h"

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

  /// Null: normals decide everywhere what is inside.
  std::shared_ptr<const WindingField> winding;
  std::vector<std::uint8_t> plain;  ///< per triangle, with `winding`: normals are right at it

  /// @throws std::invalid_argument if the mesh has no triangle, an index out of
  /// range or a value that is not finite.
  explicit TriangleSearch(Mesh mesh_in, InsideBy inside_by = InsideBy::kNormals);

  struct Nearest {
    int place = -1;                 ///< -1: nothing within the radius
    FlatClosest closest;
  };
  /// @returns the nearest triangle within `within_mm` of p.
  Nearest Find(const Eigen::Vector3d& p, double within_mm) const;

  /// @returns the places of all triangles within `reach_mm` of p; empty when
  /// there are more than `most`.
  std::vector<int> Within(const Eigen::Vector3d& p, double reach_mm, int most) const;

  /// @returns true if p lies inside, by the pseudo-normal at its closest point, or by
  /// the winding number where that point is not on a plain triangle.
  bool Inside(const Eigen::Vector3d& p, int place, const FlatClosest& closest) const;

  std::array<Eigen::Vector3d, 3> Corners(int triangle) const {
    const auto& t = mesh.triangles[triangle];
    return {mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]};
  }
};

}  // namespace aircut::sim
