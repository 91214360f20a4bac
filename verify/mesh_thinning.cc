#include "verify/mesh_thinning.h"

#include <cmath>
#include <unordered_map>

namespace aircut::verify {
namespace {

constexpr double kCoarse_ratio = 4.0;
constexpr double kGrow = 1.3;

// A cell of the grid; `fine` keeps the two sizes apart.
struct Cell {
  std::int64_t x = 0, y = 0, z = 0;
  bool fine = false;
  bool operator==(const Cell& o) const { return x == o.x && y == o.y && z == o.z && fine == o.fine; }
};

struct CellHash {
  std::size_t operator()(const Cell& c) const {
    const std::uint64_t mixed = static_cast<std::uint64_t>(c.x) * 0x9E3779B97F4A7C15u ^
                                static_cast<std::uint64_t>(c.y) * 0xC2B2AE3D27D4EB4Fu ^
                                static_cast<std::uint64_t>(c.z) * 0x165667B19E3779F9u ^ (c.fine ? 0x5851F42D4C957F2Du : 0u);
    return static_cast<std::size_t>(mixed ^ mixed >> 31);
  }
};

bool HasValue(const std::vector<float>& value, std::size_t i) { return !value.empty() && std::isfinite(value[i]); }

Cell CellOf(const Eigen::Vector3d& p, bool fine, double size_mm) {
  const auto at = [&](double x) { return static_cast<std::int64_t>(std::floor(x / size_mm)); };
  return {at(p.x()), at(p.y()), at(p.z()), fine};
}

// Keeps the triangles whose corners `place` maps to three places; -1 = none.
void KeepTriangles(const sim::Mesh& mesh, const std::vector<std::int32_t>& place, sim::Mesh* kept) {
  for (const auto& t : mesh.triangles) {
    const std::int32_t a = place[t[0]], b = place[t[1]], c = place[t[2]];
    if (a < 0 || b < 0 || c < 0 || a == b || b == c || c == a) continue;
    kept->triangles.push_back({a, b, c});
  }
}

double SpanOf(const sim::Mesh& mesh) {
  Eigen::AlignedBox3d box;
  for (const Eigen::Vector3d& p : mesh.vertices) {
    if (p.allFinite()) box.extend(p);
  }
  return box.isEmpty() ? 0.0 : box.diagonal().norm();
}

}  // namespace

ThinnedMesh Thinned(const sim::Mesh& mesh, const std::vector<float>& value, double fine_mm, double coarse_mm) {
  ThinnedMesh thin;
  std::vector<std::int32_t> place(mesh.vertices.size(), -1);
  std::unordered_map<Cell, std::int32_t, CellHash> first;
  for (std::size_t i = 0; i < mesh.vertices.size(); ++i) {
    if (!mesh.vertices[i].allFinite()) continue;
    const bool fine = HasValue(value, i);
    const auto [found, added] = first.try_emplace(CellOf(mesh.vertices[i], fine, fine ? fine_mm : coarse_mm),
                                                  static_cast<std::int32_t>(thin.mesh.vertices.size()));
    place[i] = found->second;
    if (!added) continue;
    thin.mesh.vertices.push_back(mesh.vertices[i]);
    if (!value.empty()) thin.value.push_back(value[i]);
  }
  KeepTriangles(mesh, place, &thin.mesh);
  return thin;
}

ThinnedMesh ThinnedTo(const sim::Mesh& mesh, const std::vector<float>& value, std::size_t most_vertices) {
  if (mesh.vertices.size() <= most_vertices) return {mesh, value};
  const double span_mm = SpanOf(mesh);
  double cell_mm = span_mm / 4.0 / std::sqrt(static_cast<double>(most_vertices));
  if (!(cell_mm > 0)) return {};
  for (;; cell_mm *= kGrow) {
    ThinnedMesh thin = Thinned(mesh, value, cell_mm, kCoarse_ratio * cell_mm);
    if (thin.mesh.vertices.size() <= most_vertices) return thin;
  }
}

ThinnedMesh CutOut(const sim::Mesh& mesh, const std::vector<float>& value, const Eigen::Vector3d& at, double radius_mm) {
  ThinnedMesh part;
  std::vector<std::int32_t> place(mesh.vertices.size(), -1);
  const Eigen::AlignedBox3d around(at.array() - radius_mm, at.array() + radius_mm);
  for (const auto& t : mesh.triangles) {
    // By its box: a large triangle can fill the part with all its corners outside.
    Eigen::AlignedBox3d box(mesh.vertices[t[0]]);
    box.extend(mesh.vertices[t[1]]).extend(mesh.vertices[t[2]]);
    if (!box.intersects(around)) continue;
    std::array<std::int32_t, 3> kept{};
    for (int k = 0; k < 3; ++k) {
      std::int32_t& to = place[t[k]];
      if (to < 0) {
        to = static_cast<std::int32_t>(part.mesh.vertices.size());
        part.mesh.vertices.push_back(mesh.vertices[t[k]]);
        if (!value.empty()) part.value.push_back(value[t[k]]);
      }
      kept[k] = to;
    }
    part.mesh.triangles.push_back(kept);
  }
  return part;
}

}  // namespace aircut::verify
