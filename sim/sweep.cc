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

double DistanceLowerBound(const StringSweep& sweep, const Vector3d& p) {
  const double r_most = sweep.dr > 0.0 ? sweep.r0 + sweep.dr : sweep.r0;
  const double moved = 0.5 * (sweep.v.norm() + sweep.w.norm());
  if (moved < 0.2 * r_most) {
    // A short sweep: the string half-way, less how far any ball of it gets from there.
    if (sweep.dr != 0.0) return FrozenDistance(sweep, p, 0.5).distance - moved;
    const Vector3d u = sweep.u + 0.5 * sweep.w;
    return DistanceToSegment(p - sweep.a - 0.5 * sweep.v, u) - r_most - moved;
  }
  const double turn_slack = 0.5 * sweep.w.norm();
  return DistanceToParallelogram(p - sweep.a, sweep.u + 0.5 * sweep.w, sweep.v) - r_most - turn_slack;
}

LinePart ClipLine(const StringSweep& sweep, const Vector3d& origin, const Vector3d& direction,
                  double tau_min, double tau_max) {
  return LineClip(sweep, origin, direction).Between(tau_min, tau_max);
}

}  // namespace aircut::sim
