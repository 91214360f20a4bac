#include "sim/ray_parts.h"

#include <algorithm>
#include <cmath>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// A narrower gap than this may be rounding.
constexpr double kGap_mm = 1e-6;

// Below the circle where the cone above touches the lowest ball that ball's capsule
// is the sweep.
bool BelowString(const StringSweep& s, const Vector3d& p) {
  const double touches = -s.r0 * std::max(0.0, s.dr);
  const Vector3d u1 = s.u + s.w, y0 = p - s.a, y1 = y0 - s.v;
  return y0.dot(s.u) <= touches && y1.dot(s.u) <= touches && y0.dot(u1) <= touches && y1.dot(u1) <= touches;
}

// Line against the capsule of a ball of radius r moved from a to a + v.
LinePart ClipCapsule(const StringSweep& s, const Vector3d& origin, const Vector3d& direction) {
  const double r2 = s.r0 * s.r0;
  LinePart part;
  const auto add = [&](double lo, double hi) {
    if (part.empty()) part = {lo, hi};
    else part = {std::min(part.lo, lo), std::max(part.hi, hi)};
  };
  const auto ball = [&](const Vector3d& centre) {
    const Vector3d y = centre - origin;
    const double along = y.dot(direction), gap2 = y.squaredNorm() - along * along;
    if (gap2 >= r2) return;
    const double half = std::sqrt(r2 - gap2);
    add(along - half, along + half);
  };
  ball(s.a);
  const double vv = s.v.squaredNorm();
  if (vv == 0.0) return part;
  ball(s.a + s.v);
  // The wall between the end balls: |y - (y.v/vv) v|^2 = r^2, 0 <= y.v <= vv.
  const Vector3d y0 = origin - s.a;
  const double dv = direction.dot(s.v), yv = y0.dot(s.v);
  const Vector3d dn = direction - (dv / vv) * s.v, yn = y0 - (yv / vv) * s.v;
  const double a = dn.squaredNorm(), b = dn.dot(yn), c = yn.squaredNorm() - r2;
  const double root = b * b - a * c;
  if (a <= 1e-14 || root <= 0.0) return part;
  double lo = (-b - std::sqrt(root)) / a, hi = (-b + std::sqrt(root)) / a;
  if (std::abs(dv) > 1e-14) {
    const double at0 = -yv / dv, at1 = (vv - yv) / dv;
    lo = std::max(lo, std::min(at0, at1));
    hi = std::min(hi, std::max(at0, at1));
  } else if (yv < 0.0 || yv > vv) {
    return part;
  }
  if (lo < hi) add(lo, hi);
  return part;
}

// A part all of whose travel lies above the ray's piece is told by its lowest plane.
LinePart Clip(const ProfileSweep& s, const DepthRay& ray, double lo, double hi) {
  const Vector3d low = ray.p_SQ + lo * ray.up_S - s.tip, top = ray.p_SQ + hi * ray.up_S - s.tip;
  const Vector3d axis1 = s.axis + s.turn;
  const double highest = std::max(std::max(low.dot(s.axis), top.dot(s.axis)),
                                  std::max((low - s.travel).dot(axis1), (top - s.travel).dot(axis1)));
  if (highest < s.profile->z0_mm - kRaySlack_mm) return {};
  return ClipLine(s, ray.p_SQ, ray.up_S, lo, hi);
}

LinePart Clip(const StringSweep& s, const DepthRay& ray, double lo, double hi) {
  const Vector3d top = ray.p_SQ + hi * ray.up_S, low = ray.p_SQ + lo * ray.up_S;
  const bool capsule_only = BelowString(s, top) && BelowString(s, low);
  LinePart part = ClipCapsule(s, ray.p_SQ, ray.up_S);
  part.lo = std::max(part.lo, lo);
  part.hi = std::min(part.hi, hi);
  if (capsule_only) return part;
  // The string above the lowest ball can only lengthen the part upwards, where
  // the part begins on the underside of that ball.
  const bool from_below = !part.empty() && BelowString(s, ray.p_SQ + part.lo * ray.up_S);
  if (from_below) {
    const double vv = s.v.squaredNorm();
    const double t = vv > 0.0 ? std::clamp((top - s.a).dot(s.v) / vv, 0.0, 1.0) : 0.0;
    if (DistanceAtTime(s, top, t).distance_mm <= 0.0) return {part.lo, hi};
  }
  if (const auto entry = LineEntry(s, ray.p_SQ, ray.up_S, hi)) return {std::max(*entry, lo), hi};
  return ClipLine(s, ray.p_SQ, ray.up_S, lo, hi);
}

// Farthest that any ball of the sweep reaches along a unit direction.
double ReachAlong(const StringSweep& s, const Vector3d& n) {
  const double a = n.dot(s.a) + s.r0, u = n.dot(s.u) + s.dr, v = n.dot(s.v), w = n.dot(s.w);
  return std::max(std::max(a, a + v), std::max(a + u, a + u + v + w));
}

// How far below its top the box reaches against a direction.
double Extent(const RayBox& box, const Vector3d& n) {
  return std::abs(n.dot(box.half_1)) + std::abs(n.dot(box.half_2)) + std::max(0.0, -n.dot(box.down));
}

// Width of a gap between sweep and box, seen along the direction in which the sweep's
// middle lies nearest to the box's top; no gap in sight where it is negative.
double GapTo(const StringSweep& s, const RayBox& box) {
  const Vector3d n = DistanceAtTime(s, box.top, 0.5).out;
  return n.dot(box.top) - Extent(box, n) - ReachAlong(s, n);
}

// Whether of the string only the lowest ball reaches farthest along a direction.
bool LowestBallLeads(const StringSweep& s, const Vector3d& y) {
  const double at0 = y.dot(s.u), at1 = at0 + y.dot(s.w), square = y.squaredNorm() * s.dr * s.dr;
  return at0 <= 0.0 && at1 <= 0.0 && (s.dr <= 0.0 || (at0 * at0 >= square && at1 * at1 >= square));
}

// Whether a plane parts the sweep from the box.
bool IsParted(const StringSweep& s, const RayBox& box) {
  // Most places lie below the string: then the gap times the length of y needs no root.
  const Vector3d y = box.top - s.a - 0.5 * s.v;
  if (!LowestBallLeads(s, y)) return GapTo(s, box) > kGap_mm;
  const double gap = y.squaredNorm() - 0.5 * std::abs(y.dot(s.v)) - Extent(box, y), r = s.r0 + kGap_mm;
  return gap > 0.0 && gap * gap > y.squaredNorm() * r * r;
}

// The same for a profile, from its distance half-way: by how much any place of it
// moves along the direction in half the sweep's time, and what the bend of its way adds.
bool IsParted(const ProfileSweep& s, const RayBox& box) {
  const SweepDistance d = DistanceAtTime(s, box.top, 0.5);
  const double moved = std::abs(d.out.dot(s.travel)) + s.profile->far_mm * s.turn.norm();
  return d.distance_mm - Extent(box, d.out) - 0.5 * moved - 0.25 * TurnSlack(s) > kGap_mm;
}

// A part of the tool that stands still is convex: what holds four corners of a box at
// two heights holds all between.
template <class Sweep>
double FilledBy(const Sweep& still, const RayBox& box) {
  constexpr double kInside_mm = kRaySlack_mm + 1e-4, kSpare_mm = 1e-3;
  const double depth = box.down.norm();
  const Vector3d up = -box.down / depth;
  double filled = depth;
  for (const double side_1 : {-1.0, 1.0}) {
    for (const double side_2 : {-1.0, 1.0}) {
      const Vector3d top = box.top + side_1 * box.half_1 + side_2 * box.half_2;
      if (DistanceAtTime(still, top, 0.0).distance_mm > -kInside_mm) return -1.0;
      const DepthRay corner{top + box.down, up};
      filled = std::min(filled, depth - Clip(still, corner, 0.0, depth).lo - kSpare_mm);
      if (filled <= 0.0) return -1.0;
    }
  }
  for (const double side_1 : {-1.0, 1.0}) {
    for (const double side_2 : {-1.0, 1.0}) {
      const Vector3d low = box.top - filled * up + side_1 * box.half_1 + side_2 * box.half_2;
      if (DistanceAtTime(still, low, 0.0).distance_mm > -kInside_mm) return -1.0;
    }
  }
  return filled;
}

// As BelowString for every place of a box.
bool IsBelowString(const StringSweep& s, const RayBox& box) {
  const double touches = -s.r0 * std::max(0.0, s.dr);
  const Vector3d u1 = s.u + s.w, y0 = box.top - s.a, y1 = y0 - s.v;
  const auto below = [&](const Vector3d& u) {
    const double wide = std::abs(u.dot(box.half_1)) + std::abs(u.dot(box.half_2)) + std::max(0.0, u.dot(box.down));
    return std::max(y0.dot(u), y1.dot(u)) + wide <= touches;
  };
  return below(s.u) && below(u1);
}

bool IsBelowString(const ProfileSweep&, const RayBox&) { return false; }

StringSweep HalfWay(const StringSweep& s) {
  StringSweep still = s;
  still.a += 0.5 * s.v;
  still.u += 0.5 * s.w;
  still.v = still.w = Vector3d::Zero();
  return still;
}

ProfileSweep HalfWay(const ProfileSweep& s) {
  return {s.profile, s.tip + 0.5 * s.travel, Vector3d::Zero(), (s.axis + 0.5 * s.turn).normalized(), Vector3d::Zero()};
}

}  // namespace

LinePart ClipRay(const PartSweep& part, const DepthRay& ray, double lo_mm, double hi_mm) {
  return std::visit([&](const auto& s) { return Clip(s, ray, lo_mm, hi_mm); }, part);
}

RayBox BoxOf(const DepthRay& ray, double lo_mm, double top_mm) {
  return {ray.p_SQ + top_mm * ray.up_S, (lo_mm - top_mm) * ray.up_S, Vector3d::Zero(), Vector3d::Zero()};
}

bool MayReach(const PartSweep& part, const RayBox& box) {
  return std::visit([&](const auto& s) { return !IsParted(s, box); }, part);
}

bool OnlyLowestBall(const PartSweep& part, const RayBox& box) {
  return std::visit([&](const auto& s) { return IsBelowString(s, box); }, part);
}

double FilledDepth(const PartSweep& part, const RayBox& box) {
  return std::visit([&](const auto& s) { return FilledBy(HalfWay(s), box); }, part);
}

}  // namespace aircut::sim
