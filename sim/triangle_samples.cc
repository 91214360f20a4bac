#include "sim/triangle_samples.h"

#include <cmath>

namespace aircut::sim {

using Eigen::Vector3d;

Vector3d TriangleNormal(const Mesh& mesh, int triangle) {
  const auto& t = mesh.triangles[static_cast<std::size_t>(triangle)];
  const Vector3d a = mesh.vertices[static_cast<std::size_t>(t[0])];
  const Vector3d n = (mesh.vertices[static_cast<std::size_t>(t[1])] - a)
                         .cross(mesh.vertices[static_cast<std::size_t>(t[2])] - a);
  const double norm = n.norm();
  return norm > 0.0 ? Vector3d(n / norm) : Vector3d(Vector3d::Zero());
}

std::vector<SurfaceSample> SampleSurface(const Mesh& mesh, double spacing_mm,
                                         const std::function<bool(const Vector3d&)>& wanted) {
  std::vector<SurfaceSample> samples;
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    const auto& tri = mesh.triangles[t];
    const Vector3d a = mesh.vertices[static_cast<std::size_t>(tri[0])];
    const Vector3d e = mesh.vertices[static_cast<std::size_t>(tri[1])] - a;
    const Vector3d f = mesh.vertices[static_cast<std::size_t>(tri[2])] - a;
    const double twice_area = e.cross(f).norm();
    if (!(twice_area > 0.0)) continue;
    const double longest = std::sqrt(std::max({e.squaredNorm(), f.squaredNorm(), (e - f).squaredNorm()}));
    const int n = std::max(1, static_cast<int>(std::ceil(longest / spacing_mm)));
    const Vector3d normal = TriangleNormal(mesh, static_cast<int>(t));
    const double area = 0.5 * twice_area / (static_cast<double>(n) * n);
    const auto add = [&](double u, double v) {
      const Vector3d p = a + (u / n) * e + (v / n) * f;
      if (wanted(p)) samples.push_back({p, normal, area, static_cast<int>(t)});
    };
    for (int i = 0; i < n; ++i) {
      for (int j = 0; i + j < n; ++j) {
        add(i + 1.0 / 3.0, j + 1.0 / 3.0);
        if (i + j + 1 < n) add(i + 2.0 / 3.0, j + 2.0 / 3.0);
      }
    }
  }
  return samples;
}

}  // namespace aircut::sim
