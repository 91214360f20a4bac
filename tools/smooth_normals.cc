#include "tools/smooth_normals.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace aircut::tools {

SmoothNormals::SmoothNormals(const sim::Mesh& mesh, double radius_mm, double piece_mm)
    : radius_mm_(radius_mm) {
  for (const auto& triangle : mesh.triangles) {
    const Eigen::Vector3d& a = mesh.vertices[triangle[0]];
    const Eigen::Vector3d ab = mesh.vertices[triangle[1]] - a, ac = mesh.vertices[triangle[2]] - a;
    const double longest = std::max({ab.norm(), ac.norm(), (ac - ab).norm()});
    const int n = std::max(1, static_cast<int>(std::ceil(longest / piece_mm)));
    const Eigen::Vector3d share = 0.5 * ab.cross(ac) / (n * n);
    // n * n small triangles: those that stand like the large one and, between
    // them, those that stand on their head.
    for (int i = 0; i < n; ++i) {
      for (int j = 0; i + j < n; ++j) {
        pieces_.push_back({a + ab * ((i + 1.0 / 3) / n) + ac * ((j + 1.0 / 3) / n), share});
        if (i + j + 1 < n)
          pieces_.push_back({a + ab * ((i + 2.0 / 3) / n) + ac * ((j + 2.0 / 3) / n), share});
      }
    }
  }
}

Eigen::Vector3d SmoothNormals::At(const Eigen::Vector3d& p, const Eigen::Vector3d& side) const {
  Eigen::Vector3d sum = Eigen::Vector3d::Zero();
  const double radius2 = radius_mm_ * radius_mm_;
  for (const Piece& piece : pieces_) {
    const double d2 = (piece.centre - p).squaredNorm();
    if (d2 >= radius2 || piece.normal_area.dot(side) <= 0.0) continue;
    const double weight = 1.0 - d2 / radius2;
    sum += weight * weight * piece.normal_area;
  }
  if (!(sum.norm() > 0.0)) throw std::runtime_error("no face in reach of a path point");
  return sum.normalized();
}

}  // namespace aircut::tools
