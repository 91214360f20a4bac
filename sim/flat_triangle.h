#pragma once

#include <array>
#include <cmath>

#include <Eigen/Core>
#include <Eigen/Geometry>

namespace aircut::sim {

/// Which part of a triangle a closest point lies on: corner k, the edge from
/// corner k to corner k + 1, or the inside.
enum class TriangleFeature { kCorner0, kCorner1, kCorner2, kEdge0, kEdge1, kEdge2, kInside };

/// A triangle in its own plane: origin at corner `a`, x along the longest side
/// (a to b), y in the plane towards c, z along the normal. Also holds for
/// triangles without area: they are then a segment or a point.
struct FlatTriangle {
  double a[3];              ///< corner a
  double x[3], y[3], z[3];  ///< unit axes
  double bx, cx, cy;        ///< corners b = (bx, 0), c = (cx, cy) in the plane
  double per_ac2, per_bc2;  ///< 1 / squared side, 0 for a side without length
  int shift;                ///< corner `a` is corner `shift` of the triangle as given

  static FlatTriangle From(const std::array<Eigen::Vector3d, 3>& corner);
  bool degenerate() const { return !(cy > 0.0); }
  Eigen::Vector3d normal() const { return {z[0], z[1], z[2]}; }
};

struct FlatClosest {
  double distance2 = 0.0;
  double px = 0.0, py = 0.0;   ///< closest point in the plane
  TriangleFeature feature = TriangleFeature::kInside;   ///< in the corner order as given
};

/// @returns the point of the triangle closest to p.
inline FlatClosest ClosestOnTriangle(const FlatTriangle& f, const Eigen::Vector3d& p) {
  const double rx = p.x() - f.a[0], ry = p.y() - f.a[1], rz = p.z() - f.a[2];
  const double u = rx * f.x[0] + ry * f.x[1] + rz * f.x[2];
  const double v = rx * f.y[0] + ry * f.y[1] + rz * f.y[2];
  const double w = rx * f.z[0] + ry * f.z[1] + rz * f.z[2];
  const double ub = u - f.bx, bcx = f.cx - f.bx;
  const bool left_of_ac = u * f.cy - v * f.cx > 0.0;
  const bool left_of_bc = bcx * v - f.cy * ub > 0.0;
  if (v > 0.0 && left_of_ac && left_of_bc) return {w * w, u, v, TriangleFeature::kInside};
  // Side k of the flat triangle joins its corners k and k + 1.
  const auto clamp01 = [](double t) { return t < 0.0 ? 0.0 : (t > 1.0 ? 1.0 : t); };
  const double s_ab = u < 0.0 ? 0.0 : (u > f.bx ? f.bx : u);
  const double s_bc = clamp01((ub * bcx + v * f.cy) * f.per_bc2);
  const double s_ac = clamp01((u * f.cx + v * f.cy) * f.per_ac2);
  const double ab = (u - s_ab) * (u - s_ab) + v * v;
  const double bc = (ub - s_bc * bcx) * (ub - s_bc * bcx) + (v - s_bc * f.cy) * (v - s_bc * f.cy);
  const double ac = (u - s_ac * f.cx) * (u - s_ac * f.cx) + (v - s_ac * f.cy) * (v - s_ac * f.cy);
  FlatClosest result;
  int side, end;   // end: 0 at the first corner of the side, 1 at the second, 2 between
  if (ab <= bc && ab <= ac) {
    result = {ab + w * w, s_ab, 0.0, {}};
    side = 0;
    end = s_ab <= 0.0 ? 0 : (s_ab >= f.bx ? 1 : 2);
  } else if (bc <= ac) {
    result = {bc + w * w, f.bx + s_bc * bcx, s_bc * f.cy, {}};
    side = 1;
    end = s_bc <= 0.0 ? 0 : (s_bc >= 1.0 ? 1 : 2);
  } else {
    result = {ac + w * w, s_ac * f.cx, s_ac * f.cy, {}};
    side = 2;
    end = s_ac <= 0.0 ? 1 : (s_ac >= 1.0 ? 0 : 2);
  }
  const int place = (side + (end == 1 ? 1 : 0) + f.shift) % 3;
  result.feature = static_cast<TriangleFeature>(end == 2 ? 3 + place : place);
  return result;
}

/// @returns the point (px, py) of the triangle's plane in space.
inline Eigen::Vector3d InSpace(const FlatTriangle& f, double px, double py) {
  return {f.a[0] + px * f.x[0] + py * f.y[0], f.a[1] + px * f.x[1] + py * f.y[1],
          f.a[2] + px * f.x[2] + py * f.y[2]};
}

/// Eight values side by side. The alignment is spelt out at each struct that
/// holds them, since the wide versions of the functions below count on it.
typedef double Lanes __attribute__((vector_size(64)));
typedef long long LaneIndex __attribute__((vector_size(64)));

/// Eight points, and the nearest triangle of each so far.
struct alignas(64) PointPack {
  Lanes x, y, z;
  Lanes distance2;
  LaneIndex triangle;
};

/// One value for each point of a pack.
struct alignas(64) PackValues {
  Lanes value;
};

/// Improves the nearest triangle of the eight points of each of `packs` packs
/// by `count` candidates, in their order; on a tie the earlier one stays.
void ImprovePacks(const FlatTriangle* triangles, const int* candidates, int count,
                  PointPack* packs, int pack_count);

/// Squared distances of eight points to each candidate: out[candidate].
void DistancesOfPack(const FlatTriangle* triangles, const int* candidates, int count,
                     const PointPack& pack, PackValues* out);

}  // namespace aircut::sim
