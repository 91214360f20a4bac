#include "sim/cutter.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/outline_shapes.h"
#include "sim/outline_split.h"

namespace aircut::sim {
namespace {

using Eigen::Vector2d;

constexpr double kSame_mm = 1e-9;
constexpr double kStraight = 1e-9;   // sine of a turn that is rounding

// Distance to balls strung on the z axis; rho = distance from that axis.
double StringDistance(const BallString& s, double rho, double z) {
  const double length = s.z1_mm - s.z0_mm;
  const double rise = length > 0.0 ? (s.r1_mm - s.r0_mm) / length : 0.0;
  const double along = z - s.z0_mm + rho * rise / std::sqrt(1.0 - rise * rise);
  const double u = along < 0.0 ? 0.0 : (along > length ? length : along);
  return std::hypot(rho, z - s.z0_mm - u) - s.r0_mm - rise * u;
}

double Cross(const Vector2d& a, const Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

Vector2d Direction(const OutlinePiece& piece, const Vector2d& at) {
  if (!piece.arc) return (piece.to - piece.from).normalized();
  const Vector2d out = (at - piece.centre).normalized();
  return piece.clockwise ? Vector2d(out.y(), -out.x()) : Vector2d(-out.y(), out.x());
}

bool IsLevel(const Vector2d& direction) { return std::abs(direction.y()) < kStraight; }
bool IsUpright(const Vector2d& direction) { return std::abs(direction.x()) < kStraight; }

// A tip ball (of radius 0 for a sharp tip), the cone that touches it, and a
// cylinder: either of the last two may be missing.
struct RoundTip {
  double tip_mm = 0;
  double sine = 0;   // of half the cone's angle; 0 = straight up
};

std::optional<RoundTip> RoundTipOf(const CutterOutline& outline) {
  const std::vector<OutlinePiece>& pieces = outline.pieces;
  std::size_t n = 0;
  RoundTip tip;
  Vector2d along(1.0, 0.0);
  if (pieces[0].arc) {
    const OutlinePiece& arc = pieces[0];
    if (arc.clockwise || std::abs(arc.centre.x()) > kSame_mm) return std::nullopt;
    tip.tip_mm = arc.centre.y();
    along = Direction(arc, arc.to);
    ++n;
  }
  if (n == pieces.size() || pieces[n].arc) return std::nullopt;
  const Vector2d cone = Direction(pieces[n], pieces[n].to);
  if (tip.tip_mm > 0.0 && std::abs(Cross(along, cone)) > kStraight) return std::nullopt;
  if (IsLevel(cone) || cone.x() < -kStraight) return std::nullopt;
  tip.sine = IsUpright(cone) ? 0.0 : cone.x();
  if (++n < pieces.size()) {
    if (pieces[n].arc || !IsUpright(Direction(pieces[n], pieces[n].to))) return std::nullopt;
    ++n;
  }
  return n == pieces.size() ? std::optional(tip) : std::nullopt;
}

// The longest string of balls from the tip that stays within the outline.
BallString StringOf(const RoundTip& tip, const CutterOutline& outline) {
  const double r = 0.5 * outline.diameter_mm, h = outline.height_mm;
  const double z_lid = (h - tip.tip_mm + tip.tip_mm * tip.sine) / (1.0 + tip.sine);
  const double z_full = tip.sine > 0.0 ? tip.tip_mm + (r - tip.tip_mm) / tip.sine : z_lid;
  const double z1 = std::min(z_full, z_lid);
  return {tip.tip_mm, tip.tip_mm, z1, tip.tip_mm + (z1 - tip.tip_mm) * tip.sine};
}

bool TurnsSharply(const OutlinePiece& before, const OutlinePiece& piece) {
  const Vector2d a = Direction(before, before.to), b = Direction(piece, piece.from);
  const bool shoulder = !IsLevel(a) && IsUpright(b);
  return !shoulder && Cross(a, b) > 1e-3;
}

double NoseRadiusOf(const std::vector<OutlinePiece>& pieces) {
  if (!IsLevel(Direction(pieces.front(), pieces.front().from))) return 0.0;
  double least = 1e30;
  for (std::size_t n = 0; n < pieces.size(); ++n) {
    if (n > 0 && TurnsSharply(pieces[n - 1], pieces[n])) return 0.0;
    const bool bulges = pieces[n].arc && !pieces[n].clockwise;
    if (bulges) least = std::min(least, (pieces[n].from - pieces[n].centre).norm());
  }
  return least < 1e30 ? least : 0.0;
}

bool Narrows(const OutlinePiece& piece) {
  return Direction(piece, piece.from).x() < -kStraight || Direction(piece, piece.to).x() < -kStraight;
}

}  // namespace

Cutter Cutter::Ball(double diameter_mm, double flute_length_mm) {
  return Of(BallOutline({diameter_mm, flute_length_mm}));
}

Cutter Cutter::V(double angle_rad, double tip_radius_mm, double diameter_mm,
                 double flute_length_mm) {
  return Of(RoundTipConeOutline({diameter_mm, flute_length_mm}, angle_rad, tip_radius_mm));
}

Cutter Cutter::Of(CutterOutline outline) {
  Cutter c;
  c.nose_radius_mm_ = NoseRadiusOf(outline.pieces);
  c.widens_upwards_ = std::none_of(outline.pieces.begin(), outline.pieces.end(), Narrows);
  const auto tip = RoundTipOf(outline);
  const BallString string = tip ? StringOf(*tip, outline) : BallString{};
  if (string.z1_mm > string.z0_mm) {
    c.strings_ = {string};
    // The string is the cutter up to where its last ball touches the flank. The
    // rest begins below that, so that no skin is left where the two meet.
    const double flank = string.z0_mm - string.r0_mm * tip->sine, touches = string.z1_mm - string.r1_mm * tip->sine;
    c.profiles_ = {ProfileAbove(outline, std::max(flank, touches - 0.5 * string.r1_mm))};
  } else {
    c.profiles_ = SplitOutline(outline);
  }
  c.outline_ = std::move(outline);
  return c;
}

double Cutter::SignedDistance(const Eigen::Vector3d& p_TQ) const {
  const double rho = std::hypot(p_TQ.x(), p_TQ.y());
  double least = 1e300;
  for (const BallString& s : strings_) least = std::min(least, StringDistance(s, rho, p_TQ.z()));
  for (const ConvexProfile& p : profiles_) least = std::min(least, DistanceToProfile(p, rho, p_TQ.z()).distance_mm);
  return least;
}

double Cutter::RadiusAt(double z_mm) const {
  double most = 0.0;
  for (const OutlinePiece& piece : outline_.pieces) {
    const double low = piece.from.y(), high = piece.to.y();
    if (z_mm < low || z_mm > high) continue;
    if (piece.arc) {
      const double r2 = (piece.from - piece.centre).squaredNorm(), up = z_mm - piece.centre.y();
      const double wide = std::sqrt(std::max(0.0, r2 - up * up));
      most = std::max(most, piece.centre.x() + (piece.clockwise ? -wide : wide));
    } else if (high > low) {
      most = std::max(most, piece.from.x() + (z_mm - low) / (high - low) * (piece.to.x() - piece.from.x()));
    } else {
      most = std::max({most, piece.from.x(), piece.to.x()});
    }
  }
  return most;
}

}  // namespace aircut::sim
