#include "sim/convex_mesh.h"

namespace aircut::sim {
namespace {

// Every face is held against every vertex.
constexpr std::size_t kMostFaces = 4000;
constexpr double kBeyond_mm = 1e-6;

}  // namespace

bool IsConvex(const Mesh& mesh) {
  if (mesh.triangles.empty() || mesh.triangles.size() > kMostFaces) return false;
  for (const auto& t : mesh.triangles) {
    const Eigen::Vector3d& a = mesh.vertices[static_cast<std::size_t>(t[0])];
    const Eigen::Vector3d n = (mesh.vertices[static_cast<std::size_t>(t[1])] - a)
                                  .cross(mesh.vertices[static_cast<std::size_t>(t[2])] - a);
    const double length = n.norm();
    if (!(length > 0)) continue;
    for (const Eigen::Vector3d& p : mesh.vertices) {
      if (n.dot(p - a) > kBeyond_mm * length) return false;
    }
  }
  return true;
}

}  // namespace aircut::sim
