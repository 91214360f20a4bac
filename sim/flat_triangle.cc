#include "sim/flat_triangle.h"

namespace aircut::sim {

// One build runs on any machine and still uses its wide registers; without
// contraction every version gives the same bits. Sanitizers cannot start
// programs that choose a version before main.
#if defined(__x86_64__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define AIRCUT_WIDE __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define AIRCUT_WIDE
#endif

FlatTriangle FlatTriangle::From(const std::array<Eigen::Vector3d, 3>& corner) {
  FlatTriangle f;
  double longest = -1.0;
  f.shift = 0;
  for (int k = 0; k < 3; ++k) {
    const double side = (corner[(k + 1) % 3] - corner[k]).norm();
    if (side <= longest) continue;
    longest = side;
    f.shift = k;
  }
  const Eigen::Vector3d a = corner[f.shift];
  const Eigen::Vector3d ab = corner[(f.shift + 1) % 3] - a, ac = corner[(f.shift + 2) % 3] - a;
  const Eigen::Vector3d x =
      longest > 0.0 ? Eigen::Vector3d(ab / longest) : Eigen::Vector3d::UnitX();
  Eigen::Vector3d y = ac - ac.dot(x) * x;
  y -= y.dot(x) * x;   // once more: the first pass leaves rounding of the size of ac
  const double height = y.norm();
  // Lower than rounding: no direction can be trusted, so it counts as a segment.
  const bool flat = !(height > 1e-14 * longest);
  y = flat ? x.unitOrthogonal() : Eigen::Vector3d(y / height);
  const Eigen::Vector3d z = x.cross(y);
  for (int i = 0; i < 3; ++i) {
    f.a[i] = a[i];
    f.x[i] = x[i];
    f.y[i] = y[i];
    f.z[i] = z[i];
  }
  f.bx = longest;
  f.cx = ac.dot(x);
  f.cy = flat ? 0.0 : height;
  const double ac2 = f.cx * f.cx + f.cy * f.cy;
  const double bc2 = (f.cx - f.bx) * (f.cx - f.bx) + f.cy * f.cy;
  f.per_ac2 = ac2 > 0.0 ? 1.0 / ac2 : 0.0;
  f.per_bc2 = bc2 > 0.0 ? 1.0 / bc2 : 0.0;
  return f;
}

namespace {

// The same arithmetic as ClosestOnTriangle, without branches. A macro-free
// inline body, so that each wide version gets its own copy.
__attribute__((always_inline)) inline void Distance2(const FlatTriangle& f, const PointPack& p,
                                                     Lanes* out) {
  const Lanes zero = {};
  const Lanes one = zero + 1.0;
  const Lanes rx = p.x - f.a[0], ry = p.y - f.a[1], rz = p.z - f.a[2];
  const Lanes u = rx * f.x[0] + ry * f.x[1] + rz * f.x[2];
  const Lanes v = rx * f.y[0] + ry * f.y[1] + rz * f.y[2];
  const Lanes w = rx * f.z[0] + ry * f.z[1] + rz * f.z[2];
  const double bcx = f.cx - f.bx;
  const Lanes ub = u - f.bx;
  const Lanes bx = zero + f.bx;
  Lanes s = u < zero ? zero : u;
  s = s > bx ? bx : s;
  Lanes d = u - s;
  Lanes best = d * d + v * v;
  s = (ub * bcx + v * f.cy) * f.per_bc2;
  s = s < zero ? zero : s;
  s = s > one ? one : s;
  d = ub - s * bcx;
  Lanes e = v - s * f.cy;
  Lanes other = d * d + e * e;
  best = other < best ? other : best;
  s = (u * f.cx + v * f.cy) * f.per_ac2;
  s = s < zero ? zero : s;
  s = s > one ? one : s;
  d = u - s * f.cx;
  e = v - s * f.cy;
  other = d * d + e * e;
  best = other < best ? other : best;
  const Lanes ac = u * f.cy - v * f.cx, bc = bcx * v - f.cy * ub;
  Lanes least = v < ac ? v : ac;
  least = least < bc ? least : bc;
  best = least > zero ? zero : best;
  *out = best + w * w;
}

}  // namespace

AIRCUT_WIDE
void ImprovePacks(const FlatTriangle* triangles, const int* candidates, int count,
                  PointPack* packs, int pack_count) {
  for (int k = 0; k < pack_count; ++k) {
    PointPack& pack = packs[k];
    for (int i = 0; i < count; ++i) {
      Lanes d2;
      Distance2(triangles[candidates[i]], pack, &d2);
      const LaneIndex index = LaneIndex{} + candidates[i];
      pack.triangle = d2 < pack.distance2 ? index : pack.triangle;
      pack.distance2 = d2 < pack.distance2 ? d2 : pack.distance2;
    }
  }
}

AIRCUT_WIDE
void DistancesOfPack(const FlatTriangle* triangles, const int* candidates, int count,
                     const PointPack& pack, PackValues* out) {
  for (int i = 0; i < count; ++i) Distance2(triangles[candidates[i]], pack, &out[i].value);
}

}  // namespace aircut::sim
