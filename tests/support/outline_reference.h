#pragma once

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/outline_shapes.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// Signed distance [mm] to a revolved outline straight from its drawing, in long
/// double: the nearest point of any line, arc or of the lid on top; inside where
/// the point lies below the outline's radius at its height.
class OutlineReference {
 public:
  explicit OutlineReference(const CutterOutline& outline) : pieces_(outline.pieces) {
    const Eigen::Vector2d top = pieces_.back().to;
    pieces_.push_back({top, {0.0, top.y()}, false, Eigen::Vector2d::Zero(), false});
  }

  long double SignedDistance(long double r, long double z) const {
    long double least = 1e30L;
    for (const OutlinePiece& piece : pieces_) least = std::min(least, Distance(piece, r, z));
    return Inside(r, z) ? -least : least;
  }

 private:
  static long double Sweep(const OutlinePiece& arc) {
    const Eigen::Vector2d a = arc.from - arc.centre, b = arc.to - arc.centre;
    return std::atan2(static_cast<long double>(a.x() * b.y() - a.y() * b.x()), static_cast<long double>(a.dot(b)));
  }

  static long double Distance(const OutlinePiece& piece, long double r, long double z) {
    const long double ends = std::min(std::hypot(r - piece.from.x(), z - piece.from.y()), std::hypot(r - piece.to.x(), z - piece.to.y()));
    if (piece.arc) {
      const long double dr = r - piece.centre.x(), dz = z - piece.centre.y();
      const Eigen::Vector2d a = piece.from - piece.centre;
      const long double turn = std::atan2(a.x() * dz - a.y() * dr, a.x() * dr + a.y() * dz), sweep = Sweep(piece);
      const bool within = sweep > 0 ? turn >= 0 && turn <= sweep : turn <= 0 && turn >= sweep;
      return within ? std::abs(std::hypot(dr, dz) - static_cast<long double>(a.norm())) : ends;
    }
    const Eigen::Vector2d e = piece.to - piece.from;
    const long double s = ((r - piece.from.x()) * e.x() + (z - piece.from.y()) * e.y()) / e.squaredNorm();
    return s <= 0 || s >= 1 ? ends : std::hypot(r - piece.from.x() - s * e.x(), z - piece.from.y() - s * e.y());
  }

  // Crossings of a level ray outwards: odd = inside. Arcs never pass a height twice.
  bool Inside(long double r, long double z) const {
    bool inside = false;
    for (const OutlinePiece& piece : pieces_) {
      const long double z0 = piece.from.y(), z1 = piece.to.y();
      if (!(z0 <= z && z < z1)) continue;
      long double at = piece.from.x() + (z - z0) / (z1 - z0) * (piece.to.x() - piece.from.x());
      if (piece.arc) {
        const long double radius = (piece.from - piece.centre).norm(), up = z - piece.centre.y();
        const long double out = std::sqrt(std::max(0.0L, radius * radius - up * up));
        at = piece.centre.x() + (piece.clockwise ? -out : out);
      }
      if (at > r) inside = !inside;
    }
    return inside;
  }

  std::vector<OutlinePiece> pieces_;
};

/// Least distance [mm] of a point from the cutter over one sweep: dense poses in
/// long double, the best two neighbourhoods searched on by golden section.
inline long double DensePoseDistance(const ToolTrack& track, int sweep, const Eigen::Vector3d& p_SQ, int poses = 400) {
  using Vector = Eigen::Matrix<long double, 3, 1>;
  const std::size_t i = static_cast<std::size_t>(sweep);
  const OutlineReference outline(track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter.outline());
  const auto at = [&](long double t) {
    const Vector tip = (1 - t) * track.p_ST[i].cast<long double>() + t * track.p_ST[i + 1].cast<long double>();
    const Vector axis = ((1 - t) * track.axis_S[i].cast<long double>() + t * track.axis_S[i + 1].cast<long double>()).normalized();
    const Vector y = p_SQ.cast<long double>() - tip;
    const long double z = y.dot(axis);
    return outline.SignedDistance((y - z * axis).norm(), z);
  };
  std::vector<std::pair<long double, int>> found;
  for (int n = 0; n <= poses; ++n) found.push_back({at(static_cast<long double>(n) / poses), n});
  std::partial_sort(found.begin(), found.begin() + 2, found.end());
  long double least = found.front().first;
  for (int best = 0; best < 2; ++best) {
    long double lo = std::max(0.0L, (found[static_cast<std::size_t>(best)].second - 1.0L) / poses);
    long double hi = std::min(1.0L, (found[static_cast<std::size_t>(best)].second + 1.0L) / poses);
    for (int n = 0; n < 60; ++n) {
      const long double a = hi - 0.6180339887498948482L * (hi - lo), b = lo + 0.6180339887498948482L * (hi - lo);
      at(a) < at(b) ? hi = b : lo = a;
    }
    least = std::min(least, at(0.5L * (lo + hi)));
  }
  return least;
}

/// One cutter of each kind that a cell can describe, small enough for quick tests.
struct NamedCutter {
  std::string name;
  Cutter cutter;
};
inline std::vector<NamedCutter> OneCutterOfEachKind() {
  constexpr double kDegree = 3.14159265358979323846 / 180.0;
  const OutlineDimensions d{6.0, 12.0};
  const auto arc = [](double r, double z, double cr, double cz) { return OutlineStep{{r, z}, Eigen::Vector2d(cr, cz)}; };
  const auto line = [](double r, double z) { return OutlineStep{{r, z}, std::nullopt}; };
  return {
      {"ball", Cutter::Of(BallOutline(d))},
      {"short ball", Cutter::Of(BallOutline({6.0, 4.0}))},
      {"flat", Cutter::Of(FlatOutline(d))},
      {"bull nose", Cutter::Of(BullNoseOutline(d, 1.0))},
      {"v", Cutter::Of(RoundTipConeOutline(d, 60 * kDegree, 0.2))},
      {"sharp v", Cutter::Of(RoundTipConeOutline(d, 90 * kDegree, 0.0))},
      {"v with a flat tip", Cutter::Of(FlatTipConeOutline(d, 60 * kDegree, 0.5))},
      {"tapered ball", Cutter::Of(RoundTipConeOutline({4.0, 20.0}, 10 * kDegree, 0.75))},
      // A cylinder that goes over into a cove: hollow.
      {"cove", Cutter::Of(ListedOutline({line(1.5, 0), line(1.5, 3), arc(3.5, 5, 3.5, 3), line(3.5, 10)}))},
      // A round edge above a pilot, then a step out.
      {"stepped", Cutter::Of(ListedOutline({line(1, 0), line(1, 2), line(2, 2), arc(3, 3, 2, 3), line(3, 6), line(4, 6), line(4, 10)}))},
      // Wide below, narrow above: a slot with a neck.
      {"undercut", Cutter::Of(ListedOutline({line(3, 0), line(4, 1.5), line(3, 3), line(1.5, 3), line(1.5, 10)}))},
      {"sphere on a neck", Cutter::Of(ListedOutline({arc(2, 2, 0, 2), arc(1, 2 + std::sqrt(3.0), 0, 2), line(1, 10)}))}};
}

}  // namespace aircut::sim
