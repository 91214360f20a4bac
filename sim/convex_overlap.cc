#include "sim/convex_core.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// How far A must move along `n` (unit) to leave B: the depth is the least of
// these, so that any direction gives the depth or more.
double DepthAlong(const ConvexCore& a, const ConvexCore& b, const Vector3d& n) {
  return n.dot(b.Support(n) - a.Support(-n));
}

struct Way {
  Vector3d out = Vector3d::UnitX();
  double depth_mm = 0.0;
};

// The best of the directions to the faces, edges and corners of a cube.
Way BestOfCube(const ConvexCore& a, const ConvexCore& b) {
  Way best{Vector3d::UnitX(), DepthAlong(a, b, Vector3d::UnitX())};
  for (int k = 0; k < 27; ++k) {
    const Vector3d cube(k % 3 - 1, k / 3 % 3 - 1, k / 9 - 1);
    if (k == 13) continue;   // its middle
    const Vector3d n = cube.normalized();
    const double depth = DepthAlong(a, b, n);
    if (depth < best.depth_mm) best = {n, depth};
  }
  return best;
}

// Walks downhill in ever smaller steps.
Way Improved(const ConvexCore& a, const ConvexCore& b, Way best) {
  double step = 0.4;
  for (int k = 0; k < 500 && step > 1e-7; ++k) {
    const Vector3d u = best.out.unitOrthogonal(), v = best.out.cross(u);
    Way next = best;
    for (const Vector3d& side : {u, v, Vector3d(-u), Vector3d(-v)}) {
      const Vector3d n = (best.out + step * side).normalized();
      const double depth = DepthAlong(a, b, n);
      if (depth < next.depth_mm) next = {n, depth};
    }
    if (!(next.depth_mm < best.depth_mm)) step *= 0.5;
    best = next;
  }
  return best;
}

}  // namespace

ConvexGap OverlapOf(const ConvexCore& a, const ConvexCore& b) {
  const Way way = Improved(a, b, BestOfCube(a, b));
  const double depth = way.depth_mm > 0.0 ? way.depth_mm : 0.0;
  ConvexGap gap;
  gap.hulls_meet = true;
  gap.axis = way.out;
  gap.p_A = a.Support(-way.out);
  gap.p_B = gap.p_A + depth * way.out;
  gap.p_A -= a.radius_mm * gap.axis;
  gap.p_B += b.radius_mm * gap.axis;
  gap.distance_mm = gap.lower_mm = -depth - a.radius_mm - b.radius_mm;
  return gap;
}

}  // namespace aircut::sim
