#include "sim/shape_extent.h"

#include <cmath>
#include <limits>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// More than rounding can take from a sum of products of cell coordinates.
constexpr double kRounding_mm = 1e-9;

double LowestOf(const BoxShape& box, const Vector3d& n) {
  double low = 0.0;
  for (int k = 0; k < 3; ++k) low += n[k] * (n[k] > 0 ? box.min[k] : box.max[k]);
  return low;
}

double LowestOf(const CapsuleShape& capsule, const Vector3d& n) {
  const double from = n.dot(capsule.from), to = n.dot(capsule.to);
  return (from < to ? from : to) - capsule.radius_mm;
}

// The rim of a disc lies radius * sin(angle) below its centre; near the axis the
// sine is all rounding, so that a little is added under the root.
double LowestOf(const CylinderShape& cylinder, const Vector3d& axis, const Vector3d& n) {
  const double from = n.dot(cylinder.from), to = n.dot(cylinder.to), along = n.dot(axis);
  const double sine2 = 1.0 - along * along + 1e-15;
  return (from < to ? from : to) - cylinder.radius_mm * std::sqrt(sine2 > 0 ? sine2 : 0.0);
}

double LowestOfNode(const BoxNode& node, int slot, const Vector3d& n) {
  double low = 0.0;
  for (int k = 0; k < 3; ++k) low += n[k] * (n[k] > 0 ? node.low[k][slot] : node.high[k][slot]);
  return low;
}

// Walks the tree of a mesh down to the corners that can be lowest.
class LowestCorner {
 public:
  LowestCorner(const TriangleSearch& search, const Vector3d& n) : search_(search), n_(n) { Visit(0); }
  double low_mm() const { return low_mm_; }

 private:
  void Visit(std::int32_t at) {
    const BoxNode& node = search_.tree.nodes[static_cast<std::size_t>(at)];
    double low[4];
    bool open[4];
    for (int slot = 0; slot < 4; ++slot) {
      open[slot] = node.child[slot] >= 0;
      low[slot] = open[slot] ? LowestOfNode(node, slot, n_) : kInfinity;
    }
    for (int k = 0; k < 4; ++k) {
      int next = -1;
      for (int slot = 0; slot < 4; ++slot) {
        if (open[slot] && (next < 0 || low[slot] < low[next])) next = slot;
      }
      if (next < 0 || low[next] >= low_mm_) return;
      open[next] = false;
      if (node.count[next] == 0) Visit(node.child[next]);
      else Leaf(node.child[next], node.count[next]);
    }
  }
  void Leaf(std::int32_t first, std::int32_t count) {
    for (std::int32_t i = first; i < first + count; ++i) {
      for (const Vector3d& p : search_.Corners(search_.tree.order[static_cast<std::size_t>(i)])) {
        const double height = n_.dot(p);
        low_mm_ = height < low_mm_ ? height : low_mm_;
      }
    }
  }

  const TriangleSearch& search_;
  const Vector3d& n_;
  double low_mm_ = kInfinity;
};

}  // namespace

double LowestAlong(const PreparedShape& shape, const Vector3d& n) {
  if (shape.half_space()) return -kInfinity;
  if (shape.mesh()) return LowestCorner(*shape.triangles, n).low_mm() - kRounding_mm;
  if (const auto* capsule = std::get_if<CapsuleShape>(&shape.shape)) return LowestOf(*capsule, n) - kRounding_mm;
  if (const auto* box = std::get_if<BoxShape>(&shape.shape)) return LowestOf(*box, n) - kRounding_mm;
  if (shape.hull) return -shape.hull->HeightAlong(-n) - kRounding_mm;
  return LowestOf(std::get<CylinderShape>(shape.shape), shape.axis, n) - kRounding_mm;
}

double HighestAlong(const PreparedShape& shape, const Vector3d& n) {
  if (const auto* half_space = std::get_if<HalfSpaceShape>(&shape.shape)) {
    return n == Vector3d::UnitZ() ? half_space->z_mm : kInfinity;
  }
  return -LowestAlong(shape, -n);
}

}  // namespace aircut::sim
