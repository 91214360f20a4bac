#include "sim/line_crossing.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace aircut::sim {
namespace {

int SignOf(double v) { return v > 0.0 ? 1 : (v < 0.0 ? -1 : 0); }

// Side of the origin on which the directed line P to Q passes, +1 = the origin
// is to its left. Swapping P and Q flips the sign exactly.
int Side(const Eigen::Vector3d& p, const Eigen::Vector3d& q) {
  const double a = p.x() * q.y(), b = p.y() * q.x();
  const double det = a - b;
  if (std::abs(det) > 4e-16 * (std::abs(a) + std::abs(b))) return SignOf(det);
  // The two products nearly cancel: bring their rounding errors back in.
  const double exact = det + (std::fma(p.x(), q.y(), -a) - std::fma(p.y(), q.x(), -b));
  if (exact != 0.0) return SignOf(exact);
  if (p.y() != q.y()) return SignOf(p.y() - q.y());
  return SignOf(q.x() - p.x());
}

}  // namespace

LineCrossing::LineCrossing(const Eigen::Vector3d& origin, const Eigen::Vector3d& direction)
    : origin_(origin) {
  direction.cwiseAbs().maxCoeff(&kz_);
  kx_ = (kz_ + 1) % 3;
  ky_ = (kz_ + 2) % 3;
  if (direction[kz_] < 0.0) std::swap(kx_, ky_);   // keeps the way round
  shear_x_ = direction[kx_] / direction[kz_];
  shear_y_ = direction[ky_] / direction[kz_];
  per_z_ = 1.0 / direction[kz_];
}

std::optional<LineCrossing::Crossing> LineCrossing::With(
    const std::array<Eigen::Vector3d, 3>& corner) const {
  const Eigen::Vector3d r0 = corner[0] - origin_, r1 = corner[1] - origin_, r2 = corner[2] - origin_;
  const auto beside = [](double p, double q, double r) {
    return (p > 0.0 && q > 0.0 && r > 0.0) || (p < 0.0 && q < 0.0 && r < 0.0);
  };
  Eigen::Vector3d a, b, c;
  a.z() = r0[kz_], b.z() = r1[kz_], c.z() = r2[kz_];
  a.x() = r0[kx_] - shear_x_ * a.z(), b.x() = r1[kx_] - shear_x_ * b.z(), c.x() = r2[kx_] - shear_x_ * c.z();
  if (beside(a.x(), b.x(), c.x())) return std::nullopt;   // as most triangles are
  a.y() = r0[ky_] - shear_y_ * a.z(), b.y() = r1[ky_] - shear_y_ * b.z(), c.y() = r2[ky_] - shear_y_ * c.z();
  if (beside(a.y(), b.y(), c.y())) return std::nullopt;
  a.z() *= per_z_, b.z() *= per_z_, c.z() *= per_z_;
  const int way = Side(a, b);
  if (way == 0 || Side(b, c) != way || Side(c, a) != way) return std::nullopt;
  const double u = b.x() * c.y() - b.y() * c.x();
  const double v = c.x() * a.y() - c.y() * a.x();
  const double w = a.x() * b.y() - a.y() * b.x();
  const double sum = u + v + w;
  const double low = std::min({a.z(), b.z(), c.z()}), high = std::max({a.z(), b.z(), c.z()});
  const double t = sum != 0.0 ? (u * a.z() + v * b.z() + w * c.z()) / sum : 0.5 * (low + high);
  // Seen along the line a triangle that turns left shows its back.
  return Crossing{std::clamp(t, low, high), way < 0};
}

}  // namespace aircut::sim
