#pragma once

#include <cmath>

#include "sim/sweep.h"

namespace aircut::sim {

/// Clips a line by a sweep from its DistanceToSweep. For a fixed axis the distance
/// is convex along the line and no step of Newton's passes the crossing; an axis
/// that turns can overstep by a hair, which is taken back.
template <class Sweep>
class LineClip {
 public:
  LineClip(const Sweep& sweep, const Eigen::Vector3d& origin_S, const Eigen::Vector3d& direction_S)
      : sweep_(sweep), origin_(origin_S), direction_(direction_S) {}

  LinePart Between(double tau_min, double tau_max) const {
    const double hi = NewtonFrom(tau_max, tau_min);
    if (!(hi >= tau_min)) return {};
    const double lo = NewtonFrom(tau_min, tau_max);
    if (!(lo <= hi)) return {hi, hi};
    return {lo, hi};
  }

 private:
  static constexpr double kAtSurface_mm = 1e-8;

  SweepDistance At(double tau) const { return DistanceToSweep(sweep_, origin_ + tau * direction_); }

  // The crossing between a place outside and one inside.
  double Bisect(double outside, double inside) const {
    for (int step = 0; step < 60 && std::abs(outside - inside) > 1e-10; ++step) {
      const double mid = 0.5 * (outside + inside);
      (At(mid).distance_mm <= 0.0 ? inside : outside) = mid;
    }
    return inside;
  }

  // From one end towards the sweep; NaN for a miss.
  double NewtonFrom(double from, double to) const {
    double tau = from, before = from;
    for (int step = 0; step < 60; ++step) {
      const SweepDistance d = At(tau);
      if (d.distance_mm < -kAtSurface_mm && tau != from) return Bisect(before, tau);
      if (d.distance_mm <= kAtSurface_mm) return tau;
      const double slope = d.out.dot(direction_);
      const double next = slope != 0.0 ? tau - d.distance_mm / slope : NAN;
      const bool onward = to > from ? next > tau && next <= to : next < tau && next >= to;
      if (!onward) return NAN;
      before = tau;
      tau = next;
    }
    return tau;
  }

  const Sweep& sweep_;
  const Eigen::Vector3d& origin_;
  const Eigen::Vector3d& direction_;
};

}  // namespace aircut::sim
