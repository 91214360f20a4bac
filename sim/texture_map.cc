#include "sim/texture_map.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

double Cross(const Vector2d& a, const Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

double AreaOf(const Mesh& mesh, std::size_t triangle) {
  const auto& t = mesh.triangles[triangle];
  const Vector3d& a = mesh.vertices[static_cast<std::size_t>(t[0])];
  return 0.5 * (mesh.vertices[static_cast<std::size_t>(t[1])] - a).cross(mesh.vertices[static_cast<std::size_t>(t[2])] - a).norm();
}

// Calls visit(place of the raster) for every middle strictly inside a triangle of the picture.
template <typename Visit>
void ForPlaces(const std::array<Vector2d, 3>& uv, const Visit& visit) {
  const double area = Cross(uv[1] - uv[0], uv[2] - uv[0]);
  if (area == 0.0) return;
  const auto first = [](double x) { return static_cast<int>(std::floor(std::clamp(x, 0.0, 1.0) * kFoldRaster)); };
  const auto bounds = [&](int axis) {
    const auto [low, high] = std::minmax({uv[0][axis], uv[1][axis], uv[2][axis]});
    return std::array<int, 2>{first(low), std::min(first(high), kFoldRaster - 1)};
  };
  const auto columns = bounds(0), rows = bounds(1);
  constexpr double kInside = 1e-9;   // a middle on an edge belongs to neither side
  for (int row = rows[0]; row <= rows[1]; ++row) {
    for (int column = columns[0]; column <= columns[1]; ++column) {
      const Vector2d p((column + 0.5) / kFoldRaster, (row + 0.5) / kFoldRaster);
      const double a = Cross(uv[1] - p, uv[2] - p) / area, b = Cross(uv[2] - p, uv[0] - p) / area;
      if (a > kInside && b > kInside && 1.0 - a - b > kInside) visit(static_cast<std::size_t>(row) * kFoldRaster + static_cast<std::size_t>(column));
    }
  }
}

bool IsOutside(const std::array<Vector2d, 3>& uv) {
  for (int axis = 0; axis < 2; ++axis) {
    const auto [low, high] = std::minmax({uv[0][axis], uv[1][axis], uv[2][axis]});
    if (high <= 0.0 || low >= 1.0) return true;
  }
  return false;
}

}  // namespace

Vector2d TextureMap::At(int triangle, const Vector3d& p_S) const {
  const auto& t = mesh_S.triangles[static_cast<std::size_t>(triangle)];
  const Vector3d& a = mesh_S.vertices[static_cast<std::size_t>(t[0])];
  const Vector3d e = mesh_S.vertices[static_cast<std::size_t>(t[1])] - a, f = mesh_S.vertices[static_cast<std::size_t>(t[2])] - a;
  const Vector3d n = e.cross(f);
  const double square = n.squaredNorm();
  const auto& corners = uv[static_cast<std::size_t>(triangle)];
  if (!(square > 0.0)) return corners[0];
  const double b = (p_S - a).cross(f).dot(n) / square, c = e.cross(p_S - a).dot(n) / square;
  return corners[0] + b * (corners[1] - corners[0]) + c * (corners[2] - corners[0]);
}

double TextureMap::AreaInPicture(int triangle) const {
  const auto& corners = uv[static_cast<std::size_t>(triangle)];
  return 0.5 * Cross(corners[1] - corners[0], corners[2] - corners[0]);
}

TextureFit FitOf(const TextureMap& map) {
  std::vector<std::uint8_t> taken(static_cast<std::size_t>(kFoldRaster) * kFoldRaster, 0);
  for (const auto& uv : map.uv) {
    ForPlaces(uv, [&](std::size_t place) { taken[place] = static_cast<std::uint8_t>(std::min(taken[place] + 1, 2)); });
  }
  TextureFit fit;
  double all_mm2 = 0.0;
  for (std::size_t i = 0; i < map.uv.size(); ++i) {
    const double area_mm2 = AreaOf(map.mesh_S, i), in_picture = map.AreaInPicture(static_cast<int>(i));
    int places = 0, shared = 0;
    ForPlaces(map.uv[i], [&](std::size_t place) {
      ++places;
      shared += taken[place] > 1 ? 1 : 0;
    });
    all_mm2 += area_mm2;
    if (in_picture < 0.0) fit.mirrored += area_mm2;
    if (in_picture == 0.0) fit.flat += area_mm2;
    if (places > 0) fit.twice += area_mm2 * shared / places;
    if (IsOutside(map.uv[i])) fit.outside += area_mm2;
  }
  if (!(all_mm2 > 0.0)) return {0.0, 1.0, 0.0, 0.0};
  // All of it must come out as 1 in spite of rounding.
  const auto part = [&](double mm2) { return mm2 >= all_mm2 * (1.0 - 1e-12) ? 1.0 : mm2 / all_mm2; };
  return {part(fit.mirrored), part(fit.flat), part(fit.twice), part(fit.outside)};
}

}  // namespace aircut::sim
