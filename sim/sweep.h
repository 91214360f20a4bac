#pragma once

#include <optional>

#include "sim/tool_track.h"

namespace aircut::sim {

/// One ball string of a cutter on its way from one moment to the next: ball
/// centres a + s*u + t*v + s*t*w for s, t in [0, 1], radius r0 + s*dr, in S [mm].
/// s runs up the tool axis, t along the motion.
struct StringSweep {
  Eigen::Vector3d a, u, v, w;
  double r0 = 0.0, dr = 0.0;
};

/// @param sweep index into track.sweeps; @param string index into the cutter's strings.
StringSweep MakeStringSweep(const ToolTrack& track, int sweep, int string);

/// Distance of a point from a swept string and where it is taken.
struct SweepDistance {
  double distance_mm = 0.0;       ///< negative inside
  Eigen::Vector3d out;            ///< its slope over places: unit, at kinks less
  double t = 0.0;                 ///< how far along the motion
};

/// Smallest distance over the sweep. For a fixed axis the distance is convex
/// along the motion and the result exact within 1e-9 mm; for an axis that turns
/// evenly by up to 0.5 degrees it is within 1e-5 mm.
SweepDistance DistanceToSweep(const StringSweep& sweep, const Eigen::Vector3d& p_SQ);

/// The string frozen at time t in [0, 1]: never less than DistanceToSweep.
SweepDistance DistanceAtTime(const StringSweep& sweep, const Eigen::Vector3d& p_SQ, double t);

/// A lower bound of that distance, cheap where many places are asked of one sweep. A
/// short sweep is taken half-way, less how far any ball of it gets from there; a long
/// one at its largest radius over the parallelogram of its mean axis.
class StringFloor {
 public:
  explicit StringFloor(const StringSweep& sweep);
  double At(const Eigen::Vector3d& p_SQ) const;

 private:
  double HalfWay(const Eigen::Vector3d& y) const;

  bool short_ = false;
  Eigen::Vector3d from_, axis_, u_, v_;   // half-way and unit for a short sweep; the parallelogram's for a long one
  double length_ = 0.0, sine_ = 0.0, cosine_ = 1.0;
  double r0_ = 0.0, r1_ = 0.0, slack_ = 0.0;
};

/// Part of the line origin + tau * direction (unit) inside a sweep, between
/// tau_min and tau_max; empty when lo > hi.
struct LinePart {
  double lo = 1.0, hi = 0.0;
  bool empty() const { return lo > hi; }
};
LinePart ClipLine(const StringSweep& sweep, const Eigen::Vector3d& origin_S,
                  const Eigen::Vector3d& direction_S, double tau_min, double tau_max);

/// Where the line enters a sweep on its way to tau_max: for places tau_max that the
/// string holds at the start and at the end of its travel, else nothing. As exact as
/// DistanceToSweep and many times faster than ClipLine.
std::optional<double> LineEntry(const StringSweep& sweep, const Eigen::Vector3d& origin_S,
                                const Eigen::Vector3d& direction_S, double tau_max);

}  // namespace aircut::sim
