#include "sim/sweep.h"

#include <algorithm>
#include <cmath>

#include "sim/line_clip.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

struct AtTime {
  double distance;
  double slope;      // d(distance)/dt, by the envelope theorem
  Vector3d out;
};

// The string frozen at time t: a rounded cone.
AtTime FrozenDistance(const StringSweep& sweep, const Vector3d& p, double t) {
  const Vector3d q = sweep.u + t * sweep.w;
  const Vector3d y = p - sweep.a - t * sweep.v;
  const double length = q.norm();
  double s = 0.0;
  if (length > 0.0) {
    const double along = y.dot(q) / length;
    const double across = std::sqrt(std::max(0.0, y.squaredNorm() - along * along));
    const double rise = sweep.dr / length;
    s = (along + across * rise / std::sqrt(1.0 - rise * rise)) / length;
    s = std::clamp(s, 0.0, 1.0);
  }
  const Vector3d from_centre = y - s * q;
  const double far = from_centre.norm();
  const Vector3d out = far > 0.0 ? Vector3d(from_centre / far) : Vector3d::UnitZ();
  return {far - sweep.r0 - s * sweep.dr, -out.dot(sweep.v + s * sweep.w), out};
}

// A line's entry into the string frozen at time t, and how it moves with t.
struct Entry {
  double tau, slope;
};

// Tangent cone and lowest ball in closed form: which of them it is shows in s.
std::optional<Entry> FrozenEntry(const StringSweep& sweep, const Vector3d& origin, const Vector3d& direction, double t) {
  const Vector3d q = sweep.u + t * sweep.w, y = origin - sweep.a - t * sweep.v;
  const double length = q.norm();
  if (length == 0.0) return std::nullopt;
  const double sine = sweep.dr / length, cosine = std::sqrt(1.0 - sine * sine);
  const double k0 = sweep.r0 / cosine, k1 = sine / cosine;   // its radius is k0 + k1 along
  const double along0 = y.dot(q) / length, along1 = direction.dot(q) / length, yd = y.dot(direction);
  const double a = 1.0 - along1 * along1 * (1.0 + k1 * k1), radius0 = k0 + k1 * along0;
  const double b = yd - along1 * (along0 + k1 * radius0);
  const double root = b * b - a * (y.squaredNorm() - along0 * along0 - radius0 * radius0);
  double tau = NAN;
  if (root >= 0.0 && std::abs(a) > 1e-9) {
    tau = (-b - std::sqrt(root)) / a;
    const double along = along0 + tau * along1, across = k0 + k1 * along;
    const double s_length = along + across * k1;
    if (across < 0.0 || s_length > length) return std::nullopt;
    if (s_length < 0.0) tau = NAN;
  }
  if (std::isnan(tau)) {
    const double gap2 = y.squaredNorm() - yd * yd;
    if (gap2 >= sweep.r0 * sweep.r0) return std::nullopt;
    tau = -yd - std::sqrt(sweep.r0 * sweep.r0 - gap2);
  }
  const AtTime at = FrozenDistance(sweep, origin + tau * direction, t);
  const double falls = at.out.dot(direction);
  // Whatever the closed forms chose: it must lie on the surface, on the way in.
  if (std::abs(at.distance) > 1e-8 || falls > -1e-3) return std::nullopt;
  return Entry{tau, -at.slope / falls};
}

double DistanceToSegment(const Vector3d& y, const Vector3d& e) {
  const double ee = e.squaredNorm();
  const double t = ee > 0.0 ? std::clamp(y.dot(e) / ee, 0.0, 1.0) : 0.0;
  return (y - t * e).norm();
}

// Distance from y to the parallelogram spanned by e and f at the origin.
double DistanceToParallelogram(const Vector3d& y, const Vector3d& e, const Vector3d& f) {
  const double ee = e.squaredNorm(), ff = f.squaredNorm(), ef = e.dot(f);
  const double ye = y.dot(e), yf = y.dot(f);
  const double det = ee * ff - ef * ef;
  if (det > 1e-12 * ee * ff) {
    const double s = (ye * ff - yf * ef) / det, t = (yf * ee - ye * ef) / det;
    if (s >= 0.0 && s <= 1.0 && t >= 0.0 && t <= 1.0) return (y - s * e - t * f).norm();
  }
  return std::min(std::min(DistanceToSegment(y, e), DistanceToSegment(y, f)),
                  std::min(DistanceToSegment(y - e, f), DistanceToSegment(y - f, e)));
}

}  // namespace

StringSweep MakeStringSweep(const ToolTrack& track, int sweep, int string) {
  const std::size_t i = static_cast<std::size_t>(sweep);
  const TrackTool& tool = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)];
  const BallString& b = tool.cutter.strings()[static_cast<std::size_t>(string)];
  const Vector3d start0 = track.p_ST[i] + b.z0_mm * track.axis_S[i];
  const Vector3d start1 = track.p_ST[i + 1] + b.z0_mm * track.axis_S[i + 1];
  const double length = b.z1_mm - b.z0_mm;
  StringSweep s;
  s.a = start0;
  s.u = length * track.axis_S[i];
  s.v = start1 - start0;
  s.w = length * (track.axis_S[i + 1] - track.axis_S[i]);
  s.r0 = b.r0_mm;
  s.dr = b.r1_mm - b.r0_mm;
  return s;
}

SweepDistance DistanceToSweep(const StringSweep& sweep, const Vector3d& p) {
  AtTime lo = FrozenDistance(sweep, p, 0.0);
  if (lo.slope >= 0.0) return {lo.distance, lo.out, 0.0};
  AtTime hi = FrozenDistance(sweep, p, 1.0);
  if (hi.slope <= 0.0) return {hi.distance, hi.out, 1.0};
  // The slope changes sign once: regula falsi, Illinois variant.
  double t_lo = 0.0, t_hi = 1.0, s_lo = lo.slope, s_hi = hi.slope;
  AtTime mid = lo;
  double t = 0.0;
  int side = 0;
  for (int i = 0; i < 60 && t_hi - t_lo > 1e-13; ++i) {
    t = (t_lo * s_hi - t_hi * s_lo) / (s_hi - s_lo);
    mid = FrozenDistance(sweep, p, t);
    if (std::abs(mid.slope) < 1e-10) break;
    if (mid.slope < 0.0) {
      t_lo = t, s_lo = mid.slope;
      if (side == -1) s_hi *= 0.5;
      side = -1;
    } else {
      t_hi = t, s_hi = mid.slope;
      if (side == 1) s_lo *= 0.5;
      side = 1;
    }
  }
  return {mid.distance, mid.out, t};
}

SweepDistance DistanceAtTime(const StringSweep& sweep, const Vector3d& p, double t) {
  const AtTime at = FrozenDistance(sweep, p, t);
  return {at.distance, at.out, t};
}

StringFloor::StringFloor(const StringSweep& sweep) : u_(sweep.u + 0.5 * sweep.w), v_(sweep.v) {
  const double r_most = std::max(sweep.r0, sweep.r0 + sweep.dr), swing = sweep.w.norm();
  const double moved = 0.5 * (sweep.v.norm() + swing);
  short_ = moved < 0.2 * r_most;
  from_ = short_ ? Vector3d(sweep.a + 0.5 * sweep.v) : sweep.a;
  r0_ = short_ ? sweep.r0 : r_most;
  r1_ = short_ ? sweep.r0 + sweep.dr : r_most;
  slack_ = short_ ? moved : 0.5 * swing;
  length_ = u_.norm();
  axis_ = length_ > 0.0 ? Vector3d(u_ / length_) : Vector3d::UnitZ();
  if (short_ && length_ > 0.0) {
    sine_ = sweep.dr / length_;
    cosine_ = std::sqrt(1.0 - sine_ * sine_);
  }
}

// A rounded cone: nearest is its lowest ball, its highest or its flank.
double StringFloor::HalfWay(const Vector3d& y) const {
  const double along = y.dot(axis_), square = y.squaredNorm();
  const double across = std::sqrt(std::max(0.0, square - along * along));
  if (along * cosine_ + across * sine_ <= 0.0) return std::sqrt(square) - r0_;
  const double over = along - length_;
  if (over * cosine_ + across * sine_ >= 0.0) return std::sqrt(over * over + across * across) - r1_;
  return across * cosine_ - along * sine_ - r0_;
}

double StringFloor::At(const Vector3d& p) const {
  const Vector3d y = p - from_;
  return (short_ ? HalfWay(y) : DistanceToParallelogram(y, u_, v_) - r0_) - slack_;
}

LinePart ClipLine(const StringSweep& sweep, const Vector3d& origin, const Vector3d& direction,
                  double tau_min, double tau_max) {
  return LineClip(sweep, origin, direction).Between(tau_min, tau_max);
}

std::optional<double> LineEntry(const StringSweep& sweep, const Vector3d& origin, const Vector3d& direction, double tau_max) {
  const Vector3d end = origin + tau_max * direction;
  if (FrozenDistance(sweep, end, 0.0).distance > 0.0 || FrozenDistance(sweep, end, 1.0).distance > 0.0) return std::nullopt;
  const auto first = FrozenEntry(sweep, origin, direction, 0.0);
  if (!first || first->slope >= 0.0) return first ? std::optional(first->tau) : std::nullopt;
  const auto last = FrozenEntry(sweep, origin, direction, 1.0);
  if (!last || last->slope <= 0.0) return last ? std::optional(last->tau) : std::nullopt;
  double t_lo = 0.0, t_hi = 1.0, s_lo = first->slope, s_hi = last->slope, least = std::min(first->tau, last->tau);
  // As in DistanceToSweep; a slope this small leaves less than rounding to gain.
  constexpr double kLevel_mm = 1e-9;
  int side = 0;
  for (int i = 0; i < 60; ++i) {
    const double t = (t_lo * s_hi - t_hi * s_lo) / (s_hi - s_lo);
    const auto at = FrozenEntry(sweep, origin, direction, t);
    if (!at) return std::nullopt;
    least = std::min(least, at->tau);
    if (std::abs(at->slope) * (t_hi - t_lo) < kLevel_mm) return least;
    if (at->slope < 0.0) {
      t_lo = t, s_lo = at->slope;
      if (side == -1) s_hi *= 0.5;
      side = -1;
    } else {
      t_hi = t, s_hi = at->slope;
      if (side == 1) s_lo *= 0.5;
      side = 1;
    }
  }
  return least;
}

}  // namespace aircut::sim
