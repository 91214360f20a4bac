#include "kinematics/time_scaling.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>

namespace aircut::kinematics {
namespace {

// Rounding that an argument may be off by, relative to its own size.
constexpr double kSlack = 1e-9;

void Require(const bool holds, const std::string& name, const double value,
             const std::string& bound) {
  if (!holds) {
    throw std::invalid_argument(name + " = " + std::to_string(value) + " must be " + bound);
  }
}

bool IsPositive(const double value) { return value > 0.0 && std::isfinite(value); }

// Largest speed after `length` from `speed` under `a_max`.
double Reachable(const double speed, const PieceLimits& piece) {
  return std::sqrt(speed * speed + 2.0 * piece.a_max * piece.length);
}

void CheckPieces(const std::vector<PieceLimits>& pieces) {
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    const std::string place = "pieces[" + std::to_string(i) + "].";
    Require(IsPositive(pieces[i].length), place + "length", pieces[i].length, "> 0 and finite");
    Require(IsPositive(pieces[i].v_max), place + "v_max", pieces[i].v_max, "> 0 and finite");
    Require(IsPositive(pieces[i].a_max), place + "a_max", pieces[i].a_max, "> 0 and finite");
    Require(pieces[i].v_end_max >= 0.0, place + "v_end_max", pieces[i].v_end_max, ">= 0");
  }
}

}  // namespace

Trapezoid Trapezoid::Fastest(const double distance, const double v0, const double v1,
                             const double v_max, const double a_max) {
  Require(distance >= 0.0 && std::isfinite(distance), "distance", distance, ">= 0 and finite");
  Require(IsPositive(v_max), "v_max", v_max, "> 0 and finite");
  Require(IsPositive(a_max), "a_max", a_max, "> 0 and finite");
  Require(v0 >= 0.0 && v0 <= v_max * (1.0 + kSlack), "v0", v0, "in [0, v_max]");
  Require(v1 >= 0.0 && v1 <= v_max * (1.0 + kSlack), "v1", v1, "in [0, v_max]");
  const double change = std::abs(v1 * v1 - v0 * v0);
  Require(change <= 2.0 * a_max * distance + kSlack * (v0 * v0 + v1 * v1), "abs(v1^2 - v0^2)",
          change, "<= 2 a_max distance");
  Trapezoid profile;
  profile.distance_ = distance;
  profile.v0_ = v0;
  profile.v1_ = v1;
  profile.a_ = a_max;
  const double v_triangle = std::sqrt(0.5 * (v0 * v0 + v1 * v1) + a_max * distance);
  profile.v_peak_ = std::max({v0, v1, std::min(v_max, v_triangle)});
  if (!(profile.v_peak_ > 0.0)) return profile;  // no distance, no speed: no time
  const double v_peak = profile.v_peak_;
  profile.t_up_ = (v_peak - v0) / a_max;
  profile.t_down_ = (v_peak - v1) / a_max;
  const double ramps = 0.5 * (v0 + v_peak) * profile.t_up_ + 0.5 * (v_peak + v1) * profile.t_down_;
  profile.t_flat_ = v_triangle <= v_max ? 0.0 : std::max(0.0, (distance - ramps) / v_peak);
  return profile;
}

Trapezoid Trapezoid::Stretched(const double distance, const double v_max, const double a_max,
                               const double duration) {
  const Trapezoid fastest = Fastest(distance, 0.0, 0.0, v_max, a_max);
  Require(std::isfinite(duration) && duration >= fastest.duration() * (1.0 - kSlack), "duration",
          duration, ">= the fastest one, " + std::to_string(fastest.duration()));
  if (!(fastest.duration() > 0.0)) {
    Trapezoid rest = fastest;
    rest.t_flat_ = duration;
    return rest;
  }
  // The same profile on a slower clock keeps the share of each phase.
  const double slower = duration / fastest.duration();
  Trapezoid profile = fastest;
  profile.v_peak_ /= slower;
  profile.a_ /= slower * slower;
  profile.t_up_ *= slower;
  profile.t_flat_ *= slower;
  profile.t_down_ *= slower;
  return profile;
}

double Trapezoid::Position(const double t) const {
  const double slack = kSlack * duration();
  if (!(t >= -slack && t <= duration() + slack)) {
    throw std::out_of_range("t = " + std::to_string(t) + " must be in [0, duration]");
  }
  const double since = std::max(t, 0.0);
  if (since <= t_up_) return (v0_ + 0.5 * a_ * since) * since;
  const double left = std::max(duration() - since, 0.0);
  if (left <= t_down_) return distance_ - (v1_ + 0.5 * a_ * left) * left;
  return 0.5 * (v0_ + v_peak_) * t_up_ + v_peak_ * (since - t_up_);
}

double Trapezoid::Speed(const double t) const {
  const double slack = kSlack * duration();
  if (!(t >= -slack && t <= duration() + slack)) {
    throw std::out_of_range("t = " + std::to_string(t) + " must be in [0, duration]");
  }
  const double since = std::max(t, 0.0);
  if (since < t_up_) return v0_ + a_ * since;
  const double left = std::max(duration() - since, 0.0);
  if (left < t_down_) return v1_ + a_ * left;
  return v_peak_;
}

double Trapezoid::TimeAt(const double position) const {
  const double slack = kSlack * distance_;
  if (!(position >= -slack && position <= distance_ + slack)) {
    throw std::out_of_range("position = " + std::to_string(position) +
                            " must be in [0, distance]");
  }
  const double run = std::max(position, 0.0);
  const double rest = std::max(distance_ - run, 0.0);
  if (rest == 0.0) return duration();
  // v t + a t^2 / 2 = s, in the form that loses no digits for small s.
  const auto solve = [this](const double v, const double s) {
    return s > 0.0 ? 2.0 * s / (v + std::sqrt(v * v + 2.0 * a_ * s)) : 0.0;
  };
  const double up = 0.5 * (v0_ + v_peak_) * t_up_;
  if (run <= up) return std::min(solve(v0_, run), t_up_);
  const double down = 0.5 * (v1_ + v_peak_) * t_down_;
  if (rest <= down) return duration() - std::min(solve(v1_, rest), t_down_);
  return t_up_ + std::min((run - up) / v_peak_, t_flat_);
}

double Trapezoid::TimeBelow(const double speed) const {
  Require(speed > 0.0, "speed", speed, "> 0");
  if (v_peak_ < speed) return duration();
  const double up = v0_ < speed ? (speed - v0_) / a_ : 0.0;
  const double down = v1_ < speed ? (speed - v1_) / a_ : 0.0;
  return std::min(up, t_up_) + std::min(down, t_down_);
}

std::vector<Trapezoid> ScaleTime(const std::vector<PieceLimits>& pieces) {
  CheckPieces(pieces);
  const std::size_t count = pieces.size();
  std::vector<double> v(count + 1, 0.0);  // speed before piece i
  for (std::size_t i = 1; i < count; ++i) {
    v[i] = std::min({pieces[i - 1].v_end_max, pieces[i - 1].v_max, pieces[i].v_max});
  }
  for (std::size_t i = count; i-- > 0;) v[i] = std::min(v[i], Reachable(v[i + 1], pieces[i]));
  for (std::size_t i = 0; i < count; ++i) v[i + 1] = std::min(v[i + 1], Reachable(v[i], pieces[i]));
  std::vector<Trapezoid> profiles;
  profiles.reserve(count);
  for (std::size_t i = 0; i < count; ++i) {
    profiles.push_back(Trapezoid::Fastest(pieces[i].length, v[i], v[i + 1], pieces[i].v_max,
                                          pieces[i].a_max));
  }
  return profiles;
}

}  // namespace aircut::kinematics
