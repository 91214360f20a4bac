#pragma once

#include <functional>
#include <vector>

#include "sim/mesh.h"

namespace aircut::sim {

/// A point of a surface with the area it stands for.
struct SurfaceSample {
  Eigen::Vector3d p;
  Eigen::Vector3d normal;    ///< unit, of the triangle
  double area_mm2 = 0.0;
  int triangle = 0;
};

/// Splits every triangle into equal parts no longer than `spacing_mm` and takes
/// their centres. Degenerate triangles give none.
/// @param wanted points for which it is false are left out.
std::vector<SurfaceSample> SampleSurface(const Mesh& mesh, double spacing_mm,
                                         const std::function<bool(const Eigen::Vector3d&)>& wanted);

/// Unit normal of a triangle; zero for one without area.
Eigen::Vector3d TriangleNormal(const Mesh& mesh, int triangle);

}  // namespace aircut::sim
