#pragma once

#include <vector>

#include "sim/mesh.h"

namespace aircut::verify {

/// A mesh made coarse for looking at, with one value a vertex.
struct ThinnedMesh {
  sim::Mesh mesh;
  std::vector<float> value;      ///< of the vertices that were joined, the first finite one; empty without values
};

/// Joins vertices that lie in one cell of a grid: cells of `fine_mm` where a vertex has a
/// finite value, else of `coarse_mm` (both > 0). Triangles that fall together go; there are
/// no cracks. A vertex lies where its first one lay. @param value per vertex, or empty.
ThinnedMesh Thinned(const sim::Mesh& mesh, const std::vector<float>& value, double fine_mm, double coarse_mm);

/// Thinned with the finest cells that leave at most `most_vertices`; coarse cells are four
/// times as large. The mesh as it is where it has no more.
ThinnedMesh ThinnedTo(const sim::Mesh& mesh, const std::vector<float>& value, std::size_t most_vertices);

/// The triangles whose boxes come within `radius_mm` of a place along every axis, with their
/// values.
ThinnedMesh CutOut(const sim::Mesh& mesh, const std::vector<float>& value, const Eigen::Vector3d& at, double radius_mm);

}  // namespace aircut::verify
