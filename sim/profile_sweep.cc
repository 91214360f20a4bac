#include "sim/profile_sweep.h"

#include <algorithm>
#include <cmath>

#include "sim/line_clip.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

struct AtTime {
  double t, distance, slope;
  Vector3d out;
};

AtTime FrozenDistance(const ProfileSweep& sweep, const Vector3d& p, double t) {
  const Vector3d axis = (sweep.axis + t * sweep.turn).normalized();
  const Vector3d y = p - sweep.tip - t * sweep.travel;
  const double z = y.dot(axis);
  const Vector3d across = y - z * axis;
  const double rho = across.norm();
  const Vector3d radial = rho > 1e-12 ? Vector3d(across / rho) : Vector3d::Zero();
  const ProfileDistance d = DistanceToProfile(*sweep.profile, rho, z);
  const Vector3d out = d.out.x() * radial + d.out.y() * axis;
  // The tool moves on by travel, and its axis turns towards the point or away.
  const double slope = (d.out.y() * rho - d.out.x() * z) * radial.dot(sweep.turn) - out.dot(sweep.travel);
  return {t, d.distance_mm, slope, out};
}

// Closes in on the least distance. The slope at `lo` is negative, at `hi` positive.
class Bracket {
 public:
  Bracket(const ProfileSweep& sweep, const Vector3d& p)
      : sweep_(sweep), p_(p), lo_(FrozenDistance(sweep, p, 0.0)), hi_(lo_), best_(lo_), floor_(lo_.distance) {
    settled_ = lo_.slope >= 0.0;
    if (settled_) return;
    hi_ = FrozenDistance(sweep, p, 1.0);
    if (hi_.distance <= best_.distance) best_ = hi_;
    settled_ = hi_.slope <= 0.0;
    floor_ = settled_ ? hi_.distance : MeetingOfTangents().distance;
  }

  const AtTime& best() const { return best_; }
  // Slope of the least distance over places: with both tangents in the weights
  // that leave no slope over time, no place lies lower than this says.
  Vector3d Out() const {
    if (settled_) return best_.out;
    const double high = -lo_.slope / (hi_.slope - lo_.slope);
    return (1.0 - high) * lo_.out + high * hi_.out;
  }
  /// No distance lies below it (by more than TurnSlack).
  double floor_mm() const { return floor_; }

  // Every other step where the slopes' line crosses zero, which is at once right
  // where the distance is smooth; else where the tangents meet, right at a kink.
  void Step(int n) {
    const double t = n % 2 == 0 ? lo_.t + (hi_.t - lo_.t) * lo_.slope / (lo_.slope - hi_.slope) : MeetingOfTangents().t;
    const AtTime at = FrozenDistance(sweep_, p_, std::clamp(t, lo_.t, hi_.t));
    if (at.distance < best_.distance) best_ = at;
    settled_ = at.slope == 0.0;
    if (settled_) {
      best_ = at;
      floor_ = at.distance;
      return;
    }
    (at.slope < 0.0 ? lo_ : hi_) = at;
    floor_ = std::min(MeetingOfTangents().distance, best_.distance);
  }

 private:
  struct Meeting {
    double t, distance;
  };
  Meeting MeetingOfTangents() const {
    const double u = (hi_.distance - lo_.distance - hi_.slope * (hi_.t - lo_.t)) / (lo_.slope - hi_.slope);
    return {lo_.t + u, lo_.distance + lo_.slope * u};
  }

  const ProfileSweep& sweep_;
  const Vector3d& p_;
  AtTime lo_, hi_, best_;
  double floor_;
  bool settled_ = false;
};

double MostMovedFromHalfWay(const ProfileSweep& sweep) {
  return 0.5 * (sweep.travel.norm() + sweep.profile->far_mm * sweep.turn.norm());
}

}  // namespace

ProfileSweep MakeProfileSweep(const ToolTrack& track, int sweep, int profile) {
  const std::size_t i = static_cast<std::size_t>(sweep);
  const TrackTool& tool = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)];
  return {&tool.cutter.profiles()[static_cast<std::size_t>(profile)], track.p_ST[i], track.p_ST[i + 1] - track.p_ST[i],
          track.axis_S[i], track.axis_S[i + 1] - track.axis_S[i]};
}

double TurnSlack(const ProfileSweep& sweep) {
  const double turn = sweep.turn.norm();
  if (turn == 0.0) return 0.0;
  // A chord of the unit sphere is run through a little unevenly: a tenth covers it.
  return 0.55 * turn * (2.0 * sweep.travel.norm() + sweep.profile->far_mm * turn);
}

int SpansWithin(const ProfileSweep& sweep, double bound_mm) {
  return std::max(1, static_cast<int>(std::ceil(std::sqrt(TurnSlack(sweep) / bound_mm))));
}

std::vector<ProfileSweep> CutIntoSpans(const ProfileSweep& sweep, int spans) {
  if (spans <= 1) return {sweep};
  std::vector<ProfileSweep> cut;
  const auto axis_at = [&](int n) { return Vector3d((sweep.axis + (static_cast<double>(n) / spans) * sweep.turn).normalized()); };
  for (int n = 0; n < spans; ++n) {
    cut.push_back({sweep.profile, sweep.tip + (static_cast<double>(n) / spans) * sweep.travel, sweep.travel / spans, axis_at(n),
                   axis_at(n + 1) - axis_at(n)});
  }
  return cut;
}

SweepDistance DistanceToSweep(const ProfileSweep& sweep, const Vector3d& p) {
  constexpr double kGap_mm = 1e-9;
  Bracket bracket(sweep, p);
  for (int n = 0; n < 100 && bracket.best().distance - bracket.floor_mm() > kGap_mm; ++n) bracket.Step(n);
  return {bracket.best().distance, bracket.Out(), bracket.best().t};
}

SweepDistance DistanceAtTime(const ProfileSweep& sweep, const Vector3d& p, double t) {
  const AtTime at = FrozenDistance(sweep, p, t);
  return {at.distance, at.out, t};
}

double DistanceLowerBound(const ProfileSweep& sweep, const Vector3d& p) {
  const double moved = MostMovedFromHalfWay(sweep);
  // A short sweep: the part half-way, less how far any point of it gets from there.
  if (moved < 0.5 * sweep.profile->radius_mm) return FrozenDistance(sweep, p, 0.5).distance - moved;
  Bracket bracket(sweep, p);
  constexpr int kSteps = 5;
  for (int n = 0; n < kSteps && bracket.best().distance - bracket.floor_mm() > 0.1; ++n) bracket.Step(n);
  return bracket.floor_mm() - TurnSlack(sweep);
}

ProfileReach::ProfileReach(const ProfileSweep& sweep)
    : sweep_(sweep), tip_(sweep.tip + 0.5 * sweep.travel), axis_((sweep.axis + 0.5 * sweep.turn).normalized()),
      moved_(MostMovedFromHalfWay(sweep)), short_(moved_ < 0.5 * sweep.profile->radius_mm) {}

// Most places lie outside the cylinder around the part, which takes no root to see.
bool ProfileReach::Comes(double within_mm, const Vector3d& p) const {
  const ConvexProfile& profile = *sweep_.profile;
  const Vector3d y = p - tip_;
  const double z = y.dot(axis_), within = within_mm + moved_, wide = profile.radius_mm + within;
  const double across2 = std::max(0.0, y.squaredNorm() - z * z);
  if (within > 0.0 && (z < profile.z0_mm - within || z > profile.z1_mm + within || across2 > wide * wide)) return false;
  if (!short_) return DistanceLowerBound(sweep_, p) <= within_mm;
  return DistanceToProfile(profile, std::sqrt(across2), z).distance_mm <= within;
}

LinePart ClipLine(const ProfileSweep& sweep, const Vector3d& origin, const Vector3d& direction, double tau_min, double tau_max) {
  return LineClip(sweep, origin, direction).Between(tau_min, tau_max);
}

}  // namespace aircut::sim
