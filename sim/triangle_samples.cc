#include "sim/triangle_samples.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

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

namespace {

void SampleTriangle(const Mesh& mesh, int triangle, const SampleRequest& request,
                    std::vector<SurfaceSample>& samples) {
  const auto& tri = mesh.triangles[static_cast<std::size_t>(triangle)];
  const Vector3d a = mesh.vertices[static_cast<std::size_t>(tri[0])];
  const Vector3d e = mesh.vertices[static_cast<std::size_t>(tri[1])] - a;
  const Vector3d f = mesh.vertices[static_cast<std::size_t>(tri[2])] - a;
  const double twice_area = e.cross(f).norm();
  if (!(twice_area > 0.0)) return;
  const double longest =
      std::sqrt(std::max({e.squaredNorm(), f.squaredNorm(), (e - f).squaredNorm()}));
  // As many parts as give each about half a square of the spacing, and enough
  // that a sliver is not taken for its middle alone.
  const double parts = twice_area / (request.spacing_mm * request.spacing_mm);
  const int n = std::max({1, static_cast<int>(std::lround(std::sqrt(parts))),
                          static_cast<int>(std::ceil(longest / (3.0 * request.spacing_mm)))});
  const Vector3d normal = TriangleNormal(mesh, triangle);
  const double area = 0.5 * twice_area / (static_cast<double>(n) * n);
  const auto add = [&](double u, double v) {
    const Vector3d p = a + (u / n) * e + (v / n) * f;
    if (request.wanted(p)) samples.push_back({p, normal, area, triangle});
  };
  for (int i = 0; i < n; ++i) {
    for (int j = 0; i + j < n; ++j) {
      add(i + 1.0 / 3.0, j + 1.0 / 3.0);
      if (i + j + 1 < n) add(i + 2.0 / 3.0, j + 2.0 / 3.0);
    }
  }
}

}  // namespace

std::vector<SurfaceSample> SampleSurface(const Mesh& mesh, const SampleRequest& request) {
  const int triangles = static_cast<int>(mesh.triangles.size());
  const int runs = std::max(1, std::min(triangles, 64));
  std::vector<std::vector<SurfaceSample>> parts(static_cast<std::size_t>(runs));
  tbb::task_arena arena(request.threads);
  arena.execute([&] {
    tbb::parallel_for(0, runs, [&](int run) {
      const auto edge = [&](int r) { return static_cast<int>(std::int64_t{triangles} * r / runs); };
      for (int t = edge(run); t < edge(run + 1); ++t) {
        SampleTriangle(mesh, t, request, parts[static_cast<std::size_t>(run)]);
      }
    });
  });
  std::vector<SurfaceSample> samples;
  for (const auto& part : parts) samples.insert(samples.end(), part.begin(), part.end());
  return samples;
}

}  // namespace aircut::sim
