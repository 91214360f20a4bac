#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include <Eigen/Core>
#include <Eigen/Geometry>

namespace aircut::sim {

/// Triangle mesh, vertices in mm in the frame its holder names (`mesh_S`, ...).
/// Triangles are counter-clockwise seen from outside.
struct Mesh {
  std::vector<Eigen::Vector3d> vertices;
  std::vector<std::array<std::int32_t, 3>> triangles;
};

struct MeshReport {
  bool closed = false;       ///< every edge has exactly two triangles, opposite ways round
  int open_edges = 0;        ///< edges with one triangle
  int crowded_edges = 0;     ///< edges with more than two triangles or the same way round
  int degenerate = 0;        ///< triangles without area
  double volume_mm3 = 0.0;   ///< signed: negative when the mesh is inside out
  double area_mm2 = 0.0;
  Eigen::AlignedBox3d box;
};

/// Vertices at exactly the same place are taken as one (STL has no topology).
/// @param mesh indices in range, vertices finite.
MeshReport Inspect(const Mesh& mesh);

/// @returns the mesh with vertices at exactly the same place joined, in order of
/// first appearance; no triangle is left out.
Mesh Welded(const Mesh& mesh);

/// @returns the mesh with every vertex mapped by X_AB.
Mesh Transformed(const Mesh& mesh_B, const Eigen::Isometry3d& X_AB);

/// @returns the closed box between two corners, 12 triangles.
Mesh BoxMesh(const Eigen::Vector3d& min, const Eigen::Vector3d& max);

}  // namespace aircut::sim
