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

GjkSimplex::Face GjkSimplex::OnPoint(int i) const {
  return {1, {i, 0, 0}, {1.0, 0, 0}, vertex_[i].w.squaredNorm()};
}

GjkSimplex::Face GjkSimplex::OnSegment(int i, int j) const {
  const Vector3d &a = vertex_[i].w, &b = vertex_[j].w, ab = b - a;
  const double along = -a.dot(ab), length2 = ab.squaredNorm();
  if (!(along > 0.0)) return OnPoint(i);
  if (!(along < length2)) return OnPoint(j);
  const double t = along / length2;
  return {2, {i, j, 0}, {1.0 - t, t, 0}, ((1.0 - t) * a + t * b).squaredNorm()};
}

GjkSimplex::Face GjkSimplex::OnTriangle(int i, int j, int k) const {
  const Vector3d &a = vertex_[i].w, &b = vertex_[j].w, &c = vertex_[k].w;
  const Vector3d ab = b - a, ac = c - a, n = ab.cross(ac);
  const double area2 = n.squaredNorm(), side2 = ab.squaredNorm() + ac.squaredNorm();
  // Shares of the three corners at the foot of the origin on the plane.
  const double wa = n.dot(b.cross(c)), wb = n.dot(c.cross(a)), wc = n.dot(a.cross(b));
  // A sliver's shares may be rounding only: its sides then know better.
  const bool sliver = !(area2 > 1e-10 * side2 * side2);
  Face best;
  best.distance2 = std::numeric_limits<double>::infinity();
  if (area2 > 0.0 && wa > 0.0 && wb > 0.0 && wc > 0.0) {
    const double per_sum = 1.0 / (wa + wb + wc);
    best = {3, {i, j, k}, {wa * per_sum, wb * per_sum, wc * per_sum}, 0.0};
    best.distance2 = (best.weight[0] * a + best.weight[1] * b + best.weight[2] * c).squaredNorm();
    if (!sliver) return best;
  }
  const auto try_side = [&](int from, int to) {
    const Face side = OnSegment(from, to);
    if (side.distance2 < best.distance2) best = side;
  };
  // The nearest point lies on a side that has the foot beyond it.
  if (sliver || !(wc > 0.0)) try_side(i, j);
  if (sliver || !(wa > 0.0)) try_side(j, k);
  if (sliver || !(wb > 0.0)) try_side(k, i);
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
