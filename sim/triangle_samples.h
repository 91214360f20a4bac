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

struct SampleRequest {
  double spacing_mm = 0.0;   ///< > 0; a part has about half its square as area, no edge over 3 times it
  std::function<bool(const Eigen::Vector3d&)> wanted;   ///< points for which it is false are left out
  int threads = 1;           ///< >= 1; the result does not depend on it
};

/// Splits every triangle into equal parts and takes their centres, in order of
/// the triangles. Triangles without area give none.
std::vector<SurfaceSample> SampleSurface(const Mesh& mesh, const SampleRequest& request);

/// Unit normal of a triangle; zero for one without area.
Eigen::Vector3d TriangleNormal(const Mesh& mesh, int triangle);

}  // namespace aircut::sim
