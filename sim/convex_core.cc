#include "sim/convex_core.h"

#include <cmath>
#include <limits>

#include "sim/gjk_simplex.h"

namespace aircut::sim {

using Eigen::Vector3d;

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

}  // namespace

HullPoints::HullPoints(const std::vector<Vector3d>& points) : count_(static_cast<int>(points.size())) {
  corners_.resize((points.size() + kCornerLanes - 1) / kCornerLanes);
  for (std::size_t i = 0; i < corners_.size() * kCornerLanes; ++i) {
    const Vector3d& p = i < points.size() ? points[i] : points.back();
    CornerLanes& lanes = corners_[i / kCornerLanes];
    lanes.x[i % kCornerLanes] = p.x();
    lanes.y[i % kCornerLanes] = p.y();
    lanes.z[i % kCornerLanes] = p.z();
  }
}

Vector3d HullPoints::Point(int i) const {
  const CornerLanes& lanes = corners_[static_cast<std::size_t>(i / kCornerLanes)];
  return {lanes.x[i % kCornerLanes], lanes.y[i % kCornerLanes], lanes.z[i % kCornerLanes]};
}

Vector3d HullPoints::Support(const Vector3d& along) const {
  return Point(kernels_->farthest(corners_.data(), static_cast<int>(corners_.size()), along.data()));
}

double HullPoints::HeightAlong(const Vector3d& along) const {
  return kernels_->height(corners_.data(), static_cast<int>(corners_.size()), along.data());
}

void ConvexCore::AddPoint(const Vector3d& p) { point_[points_++] = p; }

void ConvexCore::AddCylinder(const Vector3d& from, const Vector3d& to, const Vector3d& axis,
                             double cylinder_radius_mm) {
  const Vector3d u = axis.unitOrthogonal();
  cylinder_[cylinders_++] = {from, to, axis, u, axis.cross(u), cylinder_radius_mm};
}

void ConvexCore::AddHull(const HullPoints& hull, const Eigen::AlignedBox3d& box, const kinematics::Pose& X) {
  hull_[hulls_++] = {&hull, box.center(), 0.5 * box.sizes(), X.linear(), X.translation()};
}

void ConvexCore::AddBox(const Eigen::AlignedBox3d& box, const kinematics::Pose& X) {
  box_[boxes_++] = {X * box.center(), X.linear() * (0.5 * box.sizes()).asDiagonal()};
}

Vector3d ConvexCore::Support(const Vector3d& along) const {
  double best = -kInfinity;
  Vector3d point;
  const auto take = [&](const Vector3d& p, double height) {
    if (!(height > best) && best > -kInfinity) return;
    best = height;
    point = p;
  };
  for (int i = 0; i < points_; ++i) take(point_[i], along.dot(point_[i]));
  for (int i = 0; i < boxes_; ++i) {
    const Box& b = box_[i];
    Vector3d p = b.middle;
    for (int k = 0; k < 3; ++k) {
      const Vector3d half = b.half.col(k);
      p += along.dot(half) > 0 ? half : -half;
    }
    take(p, along.dot(p));
  }
  for (int i = 0; i < cylinders_; ++i) {
    const Cylinder& c = cylinder_[i];
    // In the end's own two directions, so that the point lies on its disc even
    // where rounding is all that is left of them.
    const double u = along.dot(c.u), v = along.dot(c.v), length = std::sqrt(u * u + v * v);
    const double from = along.dot(c.from), to = along.dot(c.to);
    Vector3d p = to > from ? c.to : c.from;
    if (length > 0) p += c.radius_mm / length * (u * c.u + v * c.v);
    take(p, (to > from ? to : from) + c.radius_mm * length);
  }
  for (int i = 0; i < hulls_; ++i) {
    const Hull& h = hull_[i];
    const Vector3d p = h.R * h.points->Support(h.R.transpose() * along) + h.p;
    take(p, along.dot(p));
  }
  return point;
}

double ConvexCore::HeightAlong(const Vector3d& along) const {
  double most = -kInfinity;
  const auto take = [&most](double height) { most = height > most ? height : most; };
  for (int i = 0; i < points_; ++i) take(along.dot(point_[i]));
  for (int i = 0; i < boxes_; ++i) take(along.dot(box_[i].middle) + (along.transpose() * box_[i].half).cwiseAbs().sum());
  for (int i = 0; i < cylinders_; ++i) {
    const Cylinder& c = cylinder_[i];
    const double u = along.dot(c.u), v = along.dot(c.v), from = along.dot(c.from), to = along.dot(c.to);
    take((to > from ? to : from) + c.radius_mm * std::sqrt(u * u + v * v));
  }
  for (int i = 0; i < hulls_; ++i) {
    take(along.dot(hull_[i].p) + hull_[i].points->HeightAlong(hull_[i].R.transpose() * along));
  }
  return most + radius_mm;
}

Eigen::AlignedBox3d ConvexCore::Bounds() const {
  Eigen::AlignedBox3d box;
  const auto extend = [&box](const Vector3d& middle, const Vector3d& reach) {
    box.extend(Vector3d(middle - reach));
    box.extend(Vector3d(middle + reach));
  };
  for (int i = 0; i < points_; ++i) box.extend(point_[i]);
  for (int i = 0; i < boxes_; ++i) extend(box_[i].middle, box_[i].half.cwiseAbs().rowwise().sum());
  for (int i = 0; i < cylinders_; ++i) {
    const Cylinder& c = cylinder_[i];
    const Vector3d reach =
        c.radius_mm * (Vector3d::Ones() - c.axis.cwiseAbs2()).cwiseMax(0.0).cwiseSqrt();
    extend(c.from, reach);
    extend(c.to, reach);
  }
  for (int i = 0; i < hulls_; ++i) {
    const Hull& h = hull_[i];
    extend(h.R * h.middle + h.p, h.R.cwiseAbs() * h.half_size);
  }
  const Vector3d ball = Vector3d::Constant(radius_mm);
  return {box.min() - ball, box.max() + ball};
}

Vector3d ConvexCore::AnyPoint() const {
  if (points_ > 0) return point_[0];
  if (boxes_ > 0) return box_[0].middle;
  if (cylinders_ > 0) return cylinder_[0].from;
  return hull_[0].R * hull_[0].points->Point(0) + hull_[0].p;
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
