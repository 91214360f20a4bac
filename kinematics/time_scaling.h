#pragma once

#include <vector>

namespace aircut::kinematics {

/// Speed profile over a straight distance: constant acceleration, cruise,
/// constant deceleration (a triangle where the cruise speed is not reached).
/// Units are the caller's, as long as they agree (mm and s, or rad and s, or 1 and s).
class Trapezoid {
 public:
  /// Fastest profile over `distance` >= 0 with end speeds `v0`, `v1` >= 0, both
  /// <= `v_max` > 0 and reachable from each other within `a_max` > 0
  /// (abs(v1^2 - v0^2) <= 2 a distance within rounding).
  /// @throws std::invalid_argument otherwise, naming the argument.
  static Trapezoid Fastest(double distance, double v0, double v1, double v_max, double a_max);

  /// Rest to rest in exactly `duration` >= the fastest one, accelerating for
  /// the same fraction of the time as the fastest profile does.
  static Trapezoid Stretched(double distance, double v_max, double a_max, double duration);

  double duration() const { return t_up_ + t_flat_ + t_down_; }
  double distance() const { return distance_; }
  double peak_speed() const { return v_peak_; }
  /// @param t in [0, duration]; @throws std::out_of_range outside it.
  double Position(double t) const;
  double Speed(double t) const;
  /// @returns the time at which `position` in [0, distance] is passed.
  /// @throws std::out_of_range outside it (beyond rounding).
  double TimeAt(double position) const;
  /// @returns the time spent below `speed` (> 0).
  double TimeBelow(double speed) const;

 private:
  double distance_ = 0, v0_ = 0, v1_ = 0, v_peak_ = 0, a_ = 0;
  double t_up_ = 0, t_flat_ = 0, t_down_ = 0;
};

/// Limits of one piece of the path, per unit of its own parameter.
struct PieceLimits {
  double length = 0.0;      ///< > 0
  double v_max = 0.0;       ///< > 0: feed, joint speed
  double a_max = 0.0;       ///< > 0: joint acceleration
  double v_end_max = 0.0;   ///< >= 0, may be infinite: largest speed at the junction to the next piece
};

/// Fastest sequence of trapezoids from rest to rest under the limits of each
/// piece, speeds equal at every junction. A backward and a forward pass; no
/// other sequence is faster, since each piece's limits are constant on it.
/// `v_end_max` of the last piece is not used: the last speed is 0.
/// @throws std::invalid_argument naming the piece, field, value and bound.
std::vector<Trapezoid> ScaleTime(const std::vector<PieceLimits>& pieces);

}  // namespace aircut::kinematics
