#pragma once

#include <algorithm>

#include "sim/mesh_index.h"
#include "sim/triangle_samples.h"

namespace aircut::sim {

/// The farthest that a place of one mesh lies from the other, over its corners and places
/// `spacing_mm` apart on its faces: a one-sided Hausdorff distance, too small by no more
/// than half a cell's diagonal.
inline double FarthestPlace_mm(const Mesh& from, const MeshIndex& to, double spacing_mm) {
  double farthest = 0.0;
  for (const Eigen::Vector3d& v : from.vertices) farthest = std::max(farthest, to.ClosestPoint(v).distance_mm);
  for (const SurfaceSample& s : SampleSurface(from, {spacing_mm, [](const Eigen::Vector3d&) { return true; }, 1})) {
    farthest = std::max(farthest, to.ClosestPoint(s.p).distance_mm);
  }
  return farthest;
}

}  // namespace aircut::sim
