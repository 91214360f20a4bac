#include "sim/convex_core.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>

#include "sim/gjk_simplex.h"

namespace aircut::sim {

using Eigen::Vector3d;

namespace {

// Two doubles go through every x86-64 at once; two such lines run side by side.
using Two = double __attribute__((vector_size(16)));
using TwoIndex = std::int64_t __attribute__((vector_size(16)));
constexpr int kLanes = 4;

struct Farthest {
  Two height = Two{} - std::numeric_limits<double>::infinity();
  TwoIndex at = {};
  void Take(const Two& other, const TwoIndex& i) {
    const TwoIndex farther = other > height;
    height = farther ? other : height;
    at = farther ? i : at;
  }
};

Two Load(const double* from) { return Two{from[0], from[1]}; }
Two Larger(const Two& a, const Two& b) { return a > b ? a : b; }

}  // namespace

HullPoints::HullPoints(const std::vector<Vector3d>& points) : count_(static_cast<int>(points.size())) {
  const int filled = (count_ + kLanes - 1) / kLanes * kLanes;
  for (int i = 0; i < filled; ++i) {
    const Vector3d& p = points[static_cast<std::size_t>(i < count_ ? i : count_ - 1)];
    x_.push_back(p.x());
    y_.push_back(p.y());
    z_.push_back(p.z());
  }
}

Vector3d HullPoints::Support(const Vector3d& along) const {
  Farthest even, odd;
  const double *x = x_.data(), *y = y_.data(), *z = z_.data();
  const Two dx = Two{} + along.x(), dy = Two{} + along.y(), dz = Two{} + along.z();
  TwoIndex at{0, 1};
  for (int i = 0; i < count_; i += kLanes, at += kLanes) {
    even.Take(Load(x + i) * dx + Load(y + i) * dy + Load(z + i) * dz, at);
    odd.Take(Load(x + i + 2) * dx + Load(y + i + 2) * dy + Load(z + i + 2) * dz, at + 2);
  }
  const double height[] = {even.height[0], even.height[1], odd.height[0], odd.height[1]};
  const std::int64_t where[] = {even.at[0], even.at[1], odd.at[0], odd.at[1]};
  int best = 0;
  for (int k = 1; k < kLanes; ++k) best = height[k] > height[best] ? k : best;
  return Point(static_cast<int>(where[best]));
}

double HullPoints::HeightAlong(const Vector3d& along) const {
  const double *x = x_.data(), *y = y_.data(), *z = z_.data();
  const Two dx = Two{} + along.x(), dy = Two{} + along.y(), dz = Two{} + along.z();
  Two even = Two{} - std::numeric_limits<double>::infinity(), odd = even;
  for (int i = 0; i < count_; i += kLanes) {
    even = Larger(even, Load(x + i) * dx + Load(y + i) * dy + Load(z + i) * dz);
    odd = Larger(odd, Load(x + i + 2) * dx + Load(y + i + 2) * dy + Load(z + i + 2) * dz);
  }
  const Two most = Larger(even, odd);
  return most[0] > most[1] ? most[0] : most[1];
}

void ConvexCore::AddPoint(const Vector3d& p) {
  x_[points_] = p.x();
  y_[points_] = p.y();
  z_[points_] = p.z();
  ++points_;
}

void ConvexCore::AddDisc(const Vector3d& centre, const Vector3d& axis, double disc_radius_mm) {
  const Vector3d u = axis.unitOrthogonal();
  disc_[discs_++] = {centre, axis, u, axis.cross(u), disc_radius_mm};
}

void ConvexCore::AddHull(const HullPoints& hull, const Eigen::AlignedBox3d& box, const kinematics::Pose& X) {
  hull_[hulls_++] = {&hull, box, X};
}

void ConvexCore::AddBox(const Eigen::AlignedBox3d& box, const kinematics::Pose& X) {
  const Vector3d middle = X * box.center();
  const Eigen::Matrix3d half = X.linear() * (0.5 * box.sizes()).asDiagonal();
  for (int k = 0; k < 8; ++k) {
    AddPoint(middle + half * Vector3d(k & 1 ? 1 : -1, k & 2 ? 1 : -1, k & 4 ? 1 : -1));
  }
}

Vector3d ConvexCore::Support(const Vector3d& along) const {
  double best = -std::numeric_limits<double>::infinity();
  int which = -1;
  for (int i = 0; i < points_; ++i) {
    const double height = x_[i] * along.x() + y_[i] * along.y() + z_[i] * along.z();
    which = height > best ? i : which;
    best = height > best ? height : best;
  }
  Vector3d point = which >= 0 ? Vector3d(x_[which], y_[which], z_[which]) : AnyPoint();
  for (int i = 0; i < discs_; ++i) {
    const Disc& d = disc_[i];
    // In the disc's own two directions, so that the point lies on the disc even
    // where rounding is all that is left of them.
    const double u = along.dot(d.u), v = along.dot(d.v), length = std::sqrt(u * u + v * v);
    const double height = along.dot(d.centre) + d.radius_mm * length;
    if (!(height > best)) continue;
    best = height;
    point = d.centre;
    if (length > 0) point += d.radius_mm * (u / length * d.u + v / length * d.v);
  }
  for (int i = 0; i < hulls_; ++i) {
    const Hull& h = hull_[i];
    const Vector3d p = h.X * h.points->Support(h.X.linear().transpose() * along);
    const double height = along.dot(p);
    if (!(height > best)) continue;
    best = height;
    point = p;
  }
  return point;
}

double ConvexCore::HeightAlong(const Vector3d& along) const {
  double most = -std::numeric_limits<double>::infinity();
  for (int i = 0; i < points_; ++i) {
    const double height = x_[i] * along.x() + y_[i] * along.y() + z_[i] * along.z();
    most = height > most ? height : most;
  }
  for (int i = 0; i < discs_; ++i) {
    const Disc& d = disc_[i];
    const double u = along.dot(d.u), v = along.dot(d.v);
    const double height = along.dot(d.centre) + d.radius_mm * std::sqrt(u * u + v * v);
    most = height > most ? height : most;
  }
  for (int i = 0; i < hulls_; ++i) {
    const Hull& h = hull_[i];
    const double height =
        along.dot(h.X.translation()) + h.points->HeightAlong(h.X.linear().transpose() * along);
    most = height > most ? height : most;
  }
  return most + radius_mm;
}

Eigen::AlignedBox3d ConvexCore::Bounds() const {
  Eigen::AlignedBox3d box;
  for (int i = 0; i < points_; ++i) box.extend(Vector3d(x_[i], y_[i], z_[i]));
  for (int i = 0; i < discs_; ++i) {
    const Disc& d = disc_[i];
    const Vector3d reach =
        d.radius_mm * (Vector3d::Ones() - d.axis.cwiseAbs2()).cwiseMax(0.0).cwiseSqrt();
    box.extend(Vector3d(d.centre - reach));
    box.extend(Vector3d(d.centre + reach));
  }
  for (int i = 0; i < hulls_; ++i) {
    const Hull& h = hull_[i];
    const Vector3d centre = h.X * h.box.center();
    const Vector3d reach = h.X.linear().cwiseAbs() * (0.5 * h.box.sizes());
    box.extend(Vector3d(centre - reach));
    box.extend(Vector3d(centre + reach));
  }
  const Vector3d ball = Vector3d::Constant(radius_mm);
  return {box.min() - ball, box.max() + ball};
}

Vector3d ConvexCore::AnyPoint() const {
  if (points_ > 0) return {x_[0], y_[0], z_[0]};
  return discs_ > 0 ? disc_[0].centre : Vector3d(hull_[0].X * hull_[0].points->Point(0));
}

namespace {

constexpr int kMostSteps = 100;
// The search ends when witnesses and separating plane agree to this.
constexpr double kAgreement_mm = 1e-9;

void PlaceWitnesses(const ConvexCore& a, const ConvexCore& b, ConvexGap* gap) {
  gap->p_A -= a.radius_mm * gap->axis;
  gap->p_B += b.radius_mm * gap->axis;
}

}  // namespace

ConvexGap DistanceOf(const ConvexCore& a, const ConvexCore& b, double stop_above_mm,
                     const Vector3d& axis) {
  const double balls = a.radius_mm + b.radius_mm;
  ConvexGap gap;
  gap.lower_mm = -std::numeric_limits<double>::infinity();
  GjkSimplex simplex;
  Vector3d v = axis;
  double upper = std::numeric_limits<double>::infinity();
  for (int step = 0; step < kMostSteps; ++step) {
    const double length = v.norm();
    const Vector3d p_A = a.Support(-v), p_B = b.Support(v), w = p_A - p_B;
    const double scale = p_A.cwiseAbs().maxCoeff() + p_B.cwiseAbs().maxCoeff();
    // Less than rounding can have added: the plane square to v truly separates.
    const double lower = v.dot(w) / length - 1e-15 * scale;
    if (lower - balls > gap.lower_mm) {
      gap.lower_mm = lower - balls;
      gap.axis = v / length;
      if (gap.lower_mm > stop_above_mm) {
        gap.distance_mm = gap.lower_mm;
        gap.p_A = p_A;
        gap.p_B = p_B;
        PlaceWitnesses(a, b, &gap);
        return gap;
      }
    }
    if (upper - (gap.lower_mm + balls) <= kAgreement_mm + 1e-13 * scale) break;
    if (simplex.Has(w)) break;
    simplex.Add({w, p_A, p_B});
    const bool inside = simplex.Reduce();
    v = simplex.Closest();
    const double now = v.norm();
    if (inside || now <= 1e-10 + 1e-14 * scale) {
      gap.hulls_meet = true;
      return gap;
    }
    if (now >= upper) break;   // rounding: no nearer point can be found
    upper = now;
  }
  gap.p_A = simplex.PointA();
  gap.p_B = simplex.PointB();
  const Vector3d between = gap.p_A - gap.p_B;
  gap.axis = between.normalized();
  gap.distance_mm = between.norm() - balls;
  PlaceWitnesses(a, b, &gap);
  return gap;
}

}  // namespace aircut::sim
