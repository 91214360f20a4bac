#include "sim/gjk_simplex.h"

#include <cmath>
#include <limits>

namespace aircut::sim {

using Eigen::Vector3d;

bool GjkSimplex::Has(const Vector3d& w) const {
  for (int i = 0; i < count_; ++i) {
    if (vertex_[i].w == w) return true;
  }
  return false;
}

GjkSimplex::Face GjkSimplex::Measured(Face face) const {
  Vector3d p = Vector3d::Zero();
  for (int i = 0; i < face.count; ++i) p += face.weight[i] * vertex_[face.index[i]].w;
  face.distance2 = p.squaredNorm();
  return face;
}

GjkSimplex::Face GjkSimplex::OnPoint(int i) const {
  return Measured({1, {i, 0, 0}, {1.0, 0, 0}, 0.0});
}

GjkSimplex::Face GjkSimplex::OnSegment(int i, int j) const {
  const Vector3d ab = vertex_[j].w - vertex_[i].w;
  const double along = -vertex_[i].w.dot(ab), length2 = ab.squaredNorm();
  if (!(along > 0.0)) return OnPoint(i);
  if (!(along < length2)) return OnPoint(j);
  const double t = along / length2;
  return Measured({2, {i, j, 0}, {1.0 - t, t, 0}, 0.0});
}

GjkSimplex::Face GjkSimplex::OnTriangle(int i, int j, int k) const {
  const Vector3d &a = vertex_[i].w, &b = vertex_[j].w, &c = vertex_[k].w;
  const Vector3d n = (b - a).cross(c - a);
  const double area2 = n.squaredNorm();
  // Shares of the three corners at the foot of the origin on the plane.
  const double wa = n.dot(b.cross(c)), wb = n.dot(c.cross(a)), wc = n.dot(a.cross(b));
  if (area2 > 0.0 && wa > 0.0 && wb > 0.0 && wc > 0.0) {
    const double sum = wa + wb + wc;
    Face best = Measured({3, {i, j, k}, {wa / sum, wb / sum, wc / sum}, 0.0});
    const double side2 = (b - a).squaredNorm() + (c - a).squaredNorm();
    if (area2 > 1e-10 * side2 * side2) return best;
    // A sliver's shares may be rounding only: its sides then know better.
    for (const Face& side : {OnSegment(i, j), OnSegment(j, k), OnSegment(k, i)}) {
      if (side.distance2 < best.distance2) best = side;
    }
    return best;
  }
  Face best = OnSegment(i, j);
  for (const Face& side : {OnSegment(j, k), OnSegment(k, i)}) {
    if (side.distance2 < best.distance2) best = side;
  }
  return best;
}

void GjkSimplex::Keep(const Face& face) {
  GjkVertex kept[3];
  for (int i = 0; i < face.count; ++i) kept[i] = vertex_[face.index[i]];
  count_ = face.count;
  for (int i = 0; i < count_; ++i) {
    vertex_[i] = kept[i];
    weight_[i] = face.weight[i];
  }
}

bool GjkSimplex::Reduce() {
  if (count_ == 1) return Keep(OnPoint(0)), false;
  if (count_ == 2) return Keep(OnSegment(0, 1)), false;
  if (count_ == 3) return Keep(OnTriangle(0, 1, 2)), false;
  static constexpr int kFaces[4][4] = {{0, 1, 2, 3}, {0, 3, 1, 2}, {0, 2, 3, 1}, {1, 3, 2, 0}};
  Face best;
  best.distance2 = std::numeric_limits<double>::infinity();
  for (const auto& f : kFaces) {
    const Vector3d& a = vertex_[f[0]].w;
    const Vector3d n = (vertex_[f[1]].w - a).cross(vertex_[f[2]].w - a);
    const double origin = -a.dot(n), opposite = (vertex_[f[3]].w - a).dot(n);
    const double rounding = 1e-15 * n.norm() * (a.norm() + (vertex_[f[3]].w - a).norm());
    // The origin is surely on the inner side of this face: nothing to find on it.
    if (std::abs(opposite) > rounding && std::abs(origin) > rounding &&
        (origin > 0) == (opposite > 0)) {
      continue;
    }
    const Face face = OnTriangle(f[0], f[1], f[2]);
    if (face.distance2 < best.distance2) best = face;
  }
  if (best.count == 0) return true;
  Keep(best);
  return false;
}

Vector3d GjkSimplex::Closest() const {
  Vector3d p = Vector3d::Zero();
  for (int i = 0; i < count_; ++i) p += weight_[i] * vertex_[i].w;
  return p;
}

Vector3d GjkSimplex::PointA() const {
  Vector3d p = Vector3d::Zero();
  for (int i = 0; i < count_; ++i) p += weight_[i] * vertex_[i].p_A;
  return p;
}

Vector3d GjkSimplex::PointB() const {
  Vector3d p = Vector3d::Zero();
  for (int i = 0; i < count_; ++i) p += weight_[i] * vertex_[i].p_B;
  return p;
}

}  // namespace aircut::sim
