#include "sim/mesh_normals.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Unit normal, zero for a triangle without area.
Vector3d UnitNormal(const std::array<Vector3d, 3>& c) {
  const Vector3d n = (c[1] - c[0]).cross(c[2] - c[0]);
  const double length = n.norm();
  const double scale = std::max({(c[1] - c[0]).squaredNorm(), (c[2] - c[0]).squaredNorm(),
                                 (c[2] - c[1]).squaredNorm()});
  return length > 1e-14 * scale ? Vector3d(n / length) : Vector3d::Zero();
}

double AngleAt(const std::array<Vector3d, 3>& c, int k) {
  const Vector3d u = c[(k + 1) % 3] - c[k], v = c[(k + 2) % 3] - c[k];
  return std::atan2(u.cross(v).norm(), u.dot(v));
}

}  // namespace

std::vector<std::int32_t> PlaceOfVertices(const Mesh& mesh) {
  const auto& vertices = mesh.vertices;
  std::vector<std::int32_t> sorted(vertices.size());
  std::iota(sorted.begin(), sorted.end(), 0);
  const auto before = [&](std::int32_t a, std::int32_t b) {
    for (int axis = 0; axis < 3; ++axis) {
      if (vertices[a][axis] != vertices[b][axis]) return vertices[a][axis] < vertices[b][axis];
    }
    return false;
  };
  std::sort(sorted.begin(), sorted.end(), before);
  std::vector<std::int32_t> place(vertices.size());
  std::int32_t last = -1;
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    if (i == 0 || before(sorted[i - 1], sorted[i])) ++last;
    place[sorted[i]] = last;
  }
  return place;
}

MeshNormals PseudoNormals(const Mesh& mesh) {
  const std::vector<std::int32_t> place = PlaceOfVertices(mesh);
  MeshNormals out;
  const std::size_t triangles = mesh.triangles.size();
  out.place.assign(mesh.vertices.size(), Vector3d::Zero());
  out.place_of.resize(triangles);
  out.edge_of.resize(triangles);
  std::vector<Vector3d> normal(triangles);
  // Sides as (lower place, higher place) with their 3 * triangle + k.
  std::vector<std::pair<std::uint64_t, std::uint64_t>> sides;
  sides.reserve(3 * triangles);
  for (std::size_t t = 0; t < triangles; ++t) {
    const auto& corner = mesh.triangles[t];
    const std::array<Vector3d, 3> c{mesh.vertices[corner[0]], mesh.vertices[corner[1]],
                                    mesh.vertices[corner[2]]};
    normal[t] = UnitNormal(c);
    for (int k = 0; k < 3; ++k) {
      const std::int32_t p = place[corner[k]], q = place[corner[(k + 1) % 3]];
      out.place_of[t][k] = p;
      out.place[p] += AngleAt(c, k) * normal[t];
      const auto low = static_cast<std::uint64_t>(std::min(p, q));
      const auto high = static_cast<std::uint64_t>(std::max(p, q));
      sides.emplace_back(low << 32 | high, 3 * t + k);
    }
  }
  std::sort(sides.begin(), sides.end());
  for (std::size_t i = 0; i < sides.size(); ++i) {
    if (i == 0 || sides[i].first != sides[i - 1].first) out.edge.push_back(Vector3d::Zero());
    out.edge.back() += normal[sides[i].second / 3];
    out.edge_of[sides[i].second / 3][sides[i].second % 3] =
        static_cast<std::int32_t>(out.edge.size() - 1);
  }
  return out;
}

}  // namespace aircut::sim
