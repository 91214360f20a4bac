#include "sim/standing_surface.h"

#include <cmath>
#include <utility>

namespace aircut::sim {
namespace {

using Eigen::Array3i;
using Eigen::Vector3d;

using Polygon = std::vector<Vector3d>;

// In whole bricks from the lower corner of the lattice's first cell.
Vector3d InBricks(const Stock& stock, const Vector3d& p_S) {
  const Lattice& lattice = stock.lattice;
  return ((p_S - lattice.origin_S).array() / lattice.voxel_mm + 0.5) / kBrickEdge;
}

std::int32_t BrickOf(const Stock& stock, const Array3i& at) {
  const Eigen::Vector3i& count = stock.lattice.bricks;
  if ((at < 0).any() || (at >= count.array()).any()) return -1;
  const std::int64_t index = at.x() + std::int64_t{count.x()} * (at.y() + std::int64_t{count.y()} * at.z());
  return stock.brick_of[static_cast<std::size_t>(index)];
}

struct Range {
  Array3i low, high;   // both included
};

class SurfaceCutter {
 public:
  explicit SurfaceCutter(const Stock& stock) : stock_(stock) {}

  void Add(const Polygon& polygon) {
    const Range range = RangeOf(polygon);
    const Touched touched = TouchedIn(range);
    if (touched == Touched::kAll) return;
    if (touched == Touched::kNone) return Emit(polygon);
    int axis = 0;
    (range.high - range.low).maxCoeff(&axis);
    const double at = 0.5 * (range.low[axis] + range.high[axis] + 1);
    const double plane = std::floor(at);   // a face of bricks within the range
    Add(Half(polygon, axis, plane, 1.0));
    Add(Half(polygon, axis, plane, -1.0));
  }
  Mesh Take() { return std::move(mesh_); }

 private:
  enum class Touched { kNone, kSome, kAll };

  // The part of a polygon below (sign 1) or above (-1) a face of bricks.
  Polygon Half(const Polygon& polygon, int axis, double plane, double sign) const {
    Polygon half;
    for (std::size_t i = 0; i < polygon.size(); ++i) {
      const Vector3d &a = polygon[i], &b = polygon[(i + 1) % polygon.size()];
      const double to_a = sign * (plane - a[axis]), to_b = sign * (plane - b[axis]);
      if (to_a >= 0) half.push_back(a);
      if ((to_a > 0 && to_b < 0) || (to_a < 0 && to_b > 0)) {
        Vector3d p = a + to_a / (to_a - to_b) * (b - a);
        p[axis] = plane;
        half.push_back(p);
      }
    }
    return half;
  }

  // A polygon that ends on a face of bricks does not reach beyond it.
  static Range RangeOf(const Polygon& polygon) {
    Eigen::AlignedBox3d box;
    for (const Vector3d& p : polygon) box.extend(p);
    if (box.isEmpty()) return {Array3i::Zero(), Array3i::Constant(-1)};
    Range range{box.min().array().floor().cast<int>(), (box.max().array().ceil() - 1.0).cast<int>()};
    range.high = range.high.max(range.low);
    return range;
  }

  Touched TouchedIn(const Range& range) const {
    if ((range.high < range.low).any()) return Touched::kAll;   // nothing left of the polygon
    const Array3i low = range.low.max(0), high = range.high.min(stock_.lattice.bricks.array() - 1);
    bool some = false, all = (low == range.low).all() && (high == range.high).all();
    for (int z = low.z(); z <= high.z(); ++z) {
      for (int y = low.y(); y <= high.y(); ++y) {
        for (int x = low.x(); x <= high.x(); ++x) {
          const bool touched = BrickOf(stock_, {x, y, z}) >= 0;
          some |= touched;
          all &= touched;
          if (some && !all) return Touched::kSome;
        }
      }
    }
    return all ? Touched::kAll : Touched::kNone;
  }

  void Emit(const Polygon& polygon) {
    const auto first = static_cast<std::int32_t>(mesh_.vertices.size());
    const Lattice& lattice = stock_.lattice;
    for (const Vector3d& p : polygon) {
      mesh_.vertices.push_back(lattice.origin_S + lattice.voxel_mm * Vector3d((p * kBrickEdge).array() - 0.5));
    }
    for (std::size_t i = 2; i < polygon.size(); ++i) {
      const auto k = static_cast<std::int32_t>(i);
      mesh_.triangles.push_back({first, first + k - 1, first + k});
    }
  }

  const Stock& stock_;
  Mesh mesh_;
};

}  // namespace

Mesh StandingSurface(const Stock& stock) {
  SurfaceCutter cutter(stock);
  const Mesh& solid_S = stock.solid_S->mesh();
  for (const auto& t : solid_S.triangles) {
    Polygon polygon;
    for (const std::int32_t corner : t) {
      polygon.push_back(InBricks(stock, solid_S.vertices[static_cast<std::size_t>(corner)]));
    }
    cutter.Add(polygon);
  }
  return cutter.Take();
}

std::int32_t TouchedBrickAt(const Stock& stock, const Vector3d& p_S) {
  return BrickOf(stock, InBricks(stock, p_S).array().floor().cast<int>());
}

}  // namespace aircut::sim
