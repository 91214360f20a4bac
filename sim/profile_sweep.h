#pragma once

#include <vector>

#include "sim/sweep.h"

namespace aircut::sim {

/// A convex part of a cutter on its way from one moment to the next: tip end
/// tip + t travel, axis along axis + t turn, t in [0, 1], in S [mm].
struct ProfileSweep {
  const ConvexProfile* profile = nullptr;   ///< of the track's cutter, not owned
  Eigen::Vector3d tip, travel, axis, turn;
};

/// @param sweep index into track.sweeps; @param profile index into the cutter's profiles.
ProfileSweep MakeProfileSweep(const ToolTrack& track, int sweep, int profile);

/// How far [mm] the smallest distance over a sweep can lie below what a search by
/// slopes finds. With a fixed axis that distance is convex over t and this is 0.
/// Where the axis turns a point moves on a curve as seen from the tool; its bend
/// is at most 2 |travel| |turn| + far |turn|^2, half of which is the bound.
double TurnSlack(const ProfileSweep& sweep);

/// Parts of equal time into which a sweep must be cut for a slack of at most bound_mm.
int SpansWithin(const ProfileSweep& sweep, double bound_mm);
std::vector<ProfileSweep> CutIntoSpans(const ProfileSweep& sweep, int spans);

/// Smallest distance over the sweep, found by closing in on it from both sides
/// with the slopes' tangents until they leave less than 1e-9 mm: within that for a
/// fixed axis, within TurnSlack more for one that turns. Never too small.
SweepDistance DistanceToSweep(const ProfileSweep& sweep, const Eigen::Vector3d& p_SQ);

/// The profile frozen at time t in [0, 1]: never less than DistanceToSweep.
SweepDistance DistanceAtTime(const ProfileSweep& sweep, const Eigen::Vector3d& p_SQ, double t);

/// A lower bound of that distance, cheap.
double DistanceLowerBound(const ProfileSweep& sweep, const Eigen::Vector3d& p_SQ);

/// Tells where a sweep is out of reach, by that bound; cheap where many places are
/// asked of one sweep.
class ProfileReach {
 public:
  explicit ProfileReach(const ProfileSweep& sweep);
  /// False only where the sweep surely stays farther from a place than `within_mm`.
  bool Comes(double within_mm, const Eigen::Vector3d& p_SQ) const;

 private:
  ProfileSweep sweep_;
  Eigen::Vector3d tip_, axis_;   // half-way
  double moved_ = 0.0;           // no point of it gets farther from there
  bool short_ = false;
};

/// Part of the line origin + tau * direction (unit) inside a sweep.
LinePart ClipLine(const ProfileSweep& sweep, const Eigen::Vector3d& origin_S,
                  const Eigen::Vector3d& direction_S, double tau_min, double tau_max);

}  // namespace aircut::sim
