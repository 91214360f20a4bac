#include "sim/mesh.h"

#include <algorithm>
#include <cstring>
#include <unordered_map>

namespace aircut::sim {
namespace {

// Bit pattern of a place. Adding +0.0 turns -0.0 into 0.0, which is the same place.
using PlaceKey = std::array<std::uint64_t, 3>;

PlaceKey KeyOf(const Eigen::Vector3d& p) {
  PlaceKey key{};
  for (int i = 0; i < 3; ++i) {
    const double value = p[i] + 0.0;
    std::memcpy(&key[static_cast<std::size_t>(i)], &value, sizeof value);
  }
  return key;
}

struct PlaceHash {
  std::size_t operator()(const PlaceKey& key) const {
    std::uint64_t hash = 0x9e3779b97f4a7c15ULL;
    for (const std::uint64_t word : key) {
      hash ^= word + 0x9e3779b97f4a7c15ULL + (hash << 6) + (hash >> 2);
      hash *= 0xff51afd7ed558ccdULL;
      hash ^= hash >> 33;
    }
    return static_cast<std::size_t>(hash);
  }
};

struct Welding {
  std::vector<std::int32_t> place_of;   ///< per vertex: number of its place
  std::vector<std::int32_t> first;      ///< per place: first vertex there
};

Welding Weld(const std::vector<Eigen::Vector3d>& vertices) {
  Welding welding;
  welding.place_of.reserve(vertices.size());
  std::unordered_map<PlaceKey, std::int32_t, PlaceHash> places;
  places.reserve(vertices.size());
  for (std::size_t i = 0; i < vertices.size(); ++i) {
    const auto next = static_cast<std::int32_t>(welding.first.size());
    const auto [it, is_new] = places.emplace(KeyOf(vertices[i]), next);
    if (is_new) welding.first.push_back(static_cast<std::int32_t>(i));
    welding.place_of.push_back(it->second);
  }
  return welding;
}

// One use of an edge: smaller place, larger place, and the way round in the
// lowest bit, so that sorting brings the uses of an edge together.
std::uint64_t EdgeUse(std::int32_t from, std::int32_t to) {
  const auto low = static_cast<std::uint64_t>(std::min(from, to));
  const auto high = static_cast<std::uint64_t>(std::max(from, to));
  return (low << 32) | (high << 1) | (from < to ? 1u : 0u);
}

void CountEdges(std::vector<std::uint64_t> uses, MeshReport& report) {
  std::sort(uses.begin(), uses.end());
  for (std::size_t i = 0; i < uses.size();) {
    std::size_t end = i + 1;
    while (end < uses.size() && (uses[end] >> 1) == (uses[i] >> 1)) ++end;
    const std::size_t count = end - i;
    const bool is_paired = count == 2 && uses[i] != uses[i + 1];
    if (count == 1) {
      ++report.open_edges;
    } else if (!is_paired) {
      ++report.crowded_edges;
    }
    i = end;
  }
}

}  // namespace

MeshReport Inspect(const Mesh& mesh) {
  MeshReport report;
  for (const Eigen::Vector3d& p : mesh.vertices) report.box.extend(p);
  const Welding welding = Weld(mesh.vertices);
  std::vector<std::uint64_t> uses;
  uses.reserve(3 * mesh.triangles.size());
  // Volumes are summed from the middle of the box: far from the origin the
  // tetrahedra would be huge and cancel.
  const Eigen::Vector3d middle =
      mesh.vertices.empty() ? Eigen::Vector3d::Zero() : Eigen::Vector3d(report.box.center());
  for (const auto& t : mesh.triangles) {
    const Eigen::Vector3d a = mesh.vertices[static_cast<std::size_t>(t[0])] - middle;
    const Eigen::Vector3d b = mesh.vertices[static_cast<std::size_t>(t[1])] - middle;
    const Eigen::Vector3d c = mesh.vertices[static_cast<std::size_t>(t[2])] - middle;
    const double doubled_area = (b - a).cross(c - a).norm();
    report.area_mm2 += 0.5 * doubled_area;
    report.volume_mm3 += a.dot(b.cross(c)) / 6.0;
    if (!(doubled_area > 0.0)) ++report.degenerate;
    std::array<std::int32_t, 3> place{};
    for (std::size_t i = 0; i < 3; ++i) {
      place[i] = welding.place_of[static_cast<std::size_t>(t[i])];
    }
    // A triangle that has shrunk to an edge or a point has no part in the
    // surface; a sliver between three places has.
    if (place[0] == place[1] || place[1] == place[2] || place[2] == place[0]) continue;
    for (std::size_t i = 0; i < 3; ++i) uses.push_back(EdgeUse(place[i], place[(i + 1) % 3]));
  }
  const bool has_surface = !uses.empty();
  CountEdges(std::move(uses), report);
  report.closed = has_surface && report.open_edges == 0 && report.crowded_edges == 0;
  return report;
}

Mesh Welded(const Mesh& mesh) {
  const Welding welding = Weld(mesh.vertices);
  Mesh welded;
  welded.vertices.reserve(welding.first.size());
  for (const std::int32_t i : welding.first) {
    welded.vertices.push_back(mesh.vertices[static_cast<std::size_t>(i)]);
  }
  welded.triangles.reserve(mesh.triangles.size());
  for (const auto& t : mesh.triangles) {
    welded.triangles.push_back({welding.place_of[static_cast<std::size_t>(t[0])],
                                welding.place_of[static_cast<std::size_t>(t[1])],
                                welding.place_of[static_cast<std::size_t>(t[2])]});
  }
  return welded;
}

Mesh Transformed(const Mesh& mesh_B, const Eigen::Isometry3d& X_AB) {
  Mesh mesh_A = mesh_B;
  for (Eigen::Vector3d& p : mesh_A.vertices) p = X_AB * p;
  return mesh_A;
}

Mesh BoxMesh(const Eigen::Vector3d& min, const Eigen::Vector3d& max) {
  Mesh mesh;
  for (int corner = 0; corner < 8; ++corner) {
    mesh.vertices.emplace_back((corner & 1) != 0 ? max.x() : min.x(),
                               (corner & 2) != 0 ? max.y() : min.y(),
                               (corner & 4) != 0 ? max.z() : min.z());
  }
  mesh.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6},   // z faces
                    {0, 1, 4}, {1, 5, 4}, {2, 6, 3}, {3, 6, 7},   // y faces
                    {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};  // x faces
  return mesh;
}

}  // namespace aircut::sim
