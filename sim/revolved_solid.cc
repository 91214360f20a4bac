#include "sim/revolved_solid.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace aircut::sim {
namespace {

using Real = long double;

constexpr Real kEndless = std::numeric_limits<Real>::infinity();

LinePiece Meet(const LinePiece& a, const LinePiece& b) {
  return {a.lo > b.lo ? a.lo : b.lo, a.hi < b.hi ? a.hi : b.hi};
}

// Where low <= z <= high.
LinePiece Between(const LineInTool& line, Real low, Real high) {
  if (line.uz == 0.0L) {
    return line.z0 >= low && line.z0 <= high ? LinePiece{-kEndless, kEndless} : LinePiece{};
  }
  const Real a = (low - line.z0) / line.uz, b = (high - line.z0) / line.uz;
  return {std::min(a, b), std::max(a, b)};
}

// Where a t^2 + 2 b t + c <= 0 within `slab`. For a < 0 that is all but an interval; of a
// convex solid only one side of it can lie in the slab.
LinePiece WhereNotAbove(Real a, Real b, Real c, const LinePiece& slab) {
  if (slab.empty()) return {};
  const Real root2 = b * b - a * c;
  if (a > 0.0L) {
    if (root2 < 0.0L) return {};
    const Real root = std::sqrt(root2);
    return Meet(slab, {(-b - root) / a, (-b + root) / a});
  }
  if (a == 0.0L) {
    if (b == 0.0L) return c <= 0.0L ? slab : LinePiece{};
    const Real at = -c / (2.0L * b);
    return Meet(slab, b > 0.0L ? LinePiece{-kEndless, at} : LinePiece{at, kEndless});
  }
  if (root2 <= 0.0L) return slab;
  const Real root = std::sqrt(root2);
  const LinePiece low = Meet(slab, {-kEndless, (-b + root) / a}), high = Meet(slab, {(-b - root) / a, kEndless});
  if (low.empty()) return high;
  return high.empty() || low.hi - low.lo >= high.hi - high.lo ? low : high;
}

// Where the distance from the axis is at most r(z) = r + k (z - from), and z in the slab.
LinePiece InCone(const LineInTool& line, Real from, Real r, Real k, const LinePiece& slab) {
  const Real at0 = r + k * (line.z0 - from), slope = k * line.uz;
  return WhereNotAbove(line.q2 - line.uz * line.uz - slope * slope, line.q1 - line.z0 * line.uz - at0 * slope,
                       line.q0 - line.z0 * line.z0 - at0 * at0, slab);
}

RevolvedSlab Cone(const Eigen::Vector2d& low, const Eigen::Vector2d& high) {
  RevolvedSlab slab;
  slab.z0 = low.y();
  slab.z1 = high.y();
  slab.r0 = low.x();
  slab.k = (static_cast<Real>(high.x()) - low.x()) / (slab.z1 - slab.z0);
  slab.most = std::max(low.x(), high.x());
  return slab;
}

bool IsAboutAxis(const OutlinePiece& arc) { return std::abs(arc.centre.x()) <= 1e-12; }

void AddArc(const OutlinePiece& arc, double sag_mm, std::vector<RevolvedSlab>& slabs) {
  const double radius = (arc.from - arc.centre).norm();
  const bool bulges = arc.from.x() >= arc.centre.x() - 1e-12 && arc.to.x() >= arc.centre.x() - 1e-12;
  if (bulges && IsAboutAxis(arc)) {
    RevolvedSlab slab;
    slab.z0 = arc.from.y();
    slab.z1 = arc.to.y();
    slab.sphere = true;
    slab.centre = arc.centre.y();
    slab.radius = radius;
    const bool past_middle = arc.from.y() < arc.centre.y() && arc.to.y() > arc.centre.y();
    slab.most = past_middle ? radius : std::max(arc.from.x(), arc.to.x());
    slabs.push_back(slab);
    return;
  }
  const auto angle = [&](const Eigen::Vector2d& p) { return std::atan2(p.y() - arc.centre.y(), p.x() - arc.centre.x()); };
  const double first = angle(arc.from);
  const double turn = std::remainder(angle(arc.to) - first, 2.0 * 3.14159265358979323846);
  const double step = 2.0 * std::acos(radius / (radius + sag_mm));
  const int chords = std::max(1, static_cast<int>(std::ceil(std::abs(turn) / step)));
  // Chords of a bulge and tangents of a hollow both lie inside the cutter.
  const double half = 0.5 * turn / chords, corner = bulges ? radius : radius / std::cos(half);
  Eigen::Vector2d from = arc.from;
  for (int n = 1; n <= chords + (bulges ? 0 : 1); ++n) {
    const double at = first + 2.0 * half * n - (bulges ? 0.0 : half);
    const bool last = n == chords + (bulges ? 0 : 1);
    const Eigen::Vector2d to =
        last ? arc.to : Eigen::Vector2d(arc.centre + corner * Eigen::Vector2d(std::cos(at), std::sin(at)));
    if (to.y() > from.y()) slabs.push_back(Cone(from, to));
    from = to;
  }
}

}  // namespace

// What lies within `by` of a cone's wall lies inside the wall moved out by as much; no
// point of the slab is farther from the axis than `most`.
LinePiece RevolvedSlab::Grown(const LineInTool& line, Real by) const {
  LinePiece piece = Between(line, z0 - by, z1 + by);
  if (piece.empty()) return piece;
  if (sphere) {
    const Real r = radius + by;
    piece = WhereNotAbove(line.q2, line.q1 - centre * line.uz,
                          line.q0 - 2.0L * centre * line.z0 + centre * centre - r * r, piece);
  } else {
    piece = InCone(line, z0, r0 + by * std::sqrt(1.0L + k * k), k, piece);
  }
  return by > 0.0L ? InCone(line, 0.0L, most + by, 0.0L, piece) : piece;
}

std::vector<RevolvedSlab> SlabsOf(const CutterOutline& outline, double sag_mm) {
  std::vector<RevolvedSlab> slabs;
  for (const OutlinePiece& piece : outline.pieces) {
    if (piece.arc) {
      AddArc(piece, sag_mm, slabs);
    } else if (piece.to.y() > piece.from.y()) {
      slabs.push_back(Cone(piece.from, piece.to));
    }
  }
  return slabs;
}

bool IsExactInSlabs(const CutterOutline& outline) {
  return std::all_of(outline.pieces.begin(), outline.pieces.end(),
                     [](const OutlinePiece& piece) { return !piece.arc || IsAboutAxis(piece); });
}

}  // namespace aircut::sim
