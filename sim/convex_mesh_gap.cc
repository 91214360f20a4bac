#include "sim/convex_mesh_gap.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/gap_record.h"
#include "sim/solid_kernel.h"

namespace aircut::sim {
namespace {

using Eigen::AlignedBox3d;
using Eigen::Vector3d;
using kinematics::Pose;

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// Planes are held against boxes in sums of a few products of cell coordinates.
constexpr double kRounding_mm = 1e-9;

// A direction, and how far the convex solid reaches against it.
struct Plane {
  Vector3d n = Vector3d::Zero();
  double low_mm = -kInfinity;
};

class TreeWalk {
 public:
  TreeWalk(const ConvexCore& a, const TriangleSearch& mesh, const ShapeQuery& query)
      : a_(a), mesh_(mesh), bounds_(a.Bounds()), depth_(query.depth), found_(query.stop_above_mm) {
    Vector3d axis = query.axis;
    if (!(axis.squaredNorm() > 0)) axis = bounds_.center() - mesh.box.center();
    if (!(axis.squaredNorm() > 0)) axis = Vector3d::UnitX();
    ConvexCore box;
    box.AddBox(mesh.box, Pose::Identity());
    const ConvexGap gap = DistanceOf(a, box, kInfinity, axis);
    SetPlane(&nearest_, gap.hulls_meet ? axis.normalized() : gap.axis);
    other_ = nearest_;
    near_A_ = gap.hulls_meet ? bounds_.center() : gap.p_A;
  }

  ConvexGap Run() {
    Visit(0);
    return found_.Result();
  }

 private:
  struct Slot {
    int at;
    double plane_mm, boxes2, near2;   // as ChildBounds
  };

  double Limit() const { return found_.Limit(); }

  void SetPlane(Plane* plane, const Vector3d& n) const {
    plane->n = n;
    plane->low_mm = -a_.HeightAlong(-n) - kRounding_mm;
  }

  void Skip(double lower_mm, const Vector3d& axis) { found_.Skip(lower_mm, axis); }

  static double HighestOf(const BoxNode& node, int slot, const Vector3d& n) {
    double high = 0.0;
    for (int k = 0; k < 3; ++k) high += n[k] * (n[k] > 0 ? node.high[k][slot] : node.low[k][slot]);
    return high;
  }

  SolidBounds KnownOfSolid() const {
    SolidBounds solid;
    for (int k = 0; k < 3; ++k) {
      solid.n[0][k] = nearest_.n[k];
      solid.n[1][k] = other_.n[k];
      solid.min[k] = bounds_.min()[k];
      solid.max[k] = bounds_.max()[k];
      solid.near_p[k] = near_A_[k];
    }
    solid.low_mm[0] = nearest_.low_mm;
    solid.low_mm[1] = other_.low_mm;
    return solid;
  }

  void Visit(std::int32_t at) {
    const BoxNode& node = mesh_.tree.nodes[static_cast<std::size_t>(at)];
    ChildBounds bounds;
    kernels_.bound(node.low, node.high, KnownOfSolid(), &bounds);
    Slot slots[4];
    int count = 0;
    for (int slot = 0; slot < 4; ++slot) {
      if (node.child[slot] < 0) continue;
      if (bounds.plane_mm[slot] > Limit()) {   // most end here
        Skip(bounds.plane_mm[slot], nearest_.n);
        continue;
      }
      // What is likely to be nearest comes first.
      int k = count++;
      for (; k > 0 && slots[k - 1].near2 > bounds.near2[slot]; --k) slots[k] = slots[k - 1];
      slots[k] = {slot, bounds.plane_mm[slot], bounds.boxes2[slot], bounds.near2[slot]};
    }
    for (int k = 0; k < count && overlaps_ < kMostOverlaps; ++k) VisitSlot(node, slots[k]);
  }

  void VisitSlot(const BoxNode& node, const Slot& slot) {
    const double limit = Limit();
    if (slot.plane_mm > limit) return Skip(slot.plane_mm, nearest_.n);
    if (limit > 0 && slot.boxes2 > limit * limit) return Skip(std::sqrt(slot.boxes2), nearest_.n);
    // A plane through the nearest point so far shows no more than its own distance.
    if ((!(limit > 0) || slot.near2 > limit * limit) && IsApart(node, slot.at)) return;
    if (node.count[slot.at] == 0) Visit(node.child[slot.at]);
    else Leaf(node.child[slot.at], node.count[slot.at]);
  }

  // The way from the box to where the solid is likely to be nearest.
  Vector3d AwayFrom(const BoxNode& node, int slot) const {
    Vector3d away;
    for (int k = 0; k < 3; ++k) {
      const double p = near_A_[k], low = node.low[k][slot], high = node.high[k][slot];
      away[k] = p < low ? p - low : (p > high ? p - high : 0.0);
    }
    return away;
  }

  // Nothing in the slot can be nearer than what is known: the plane square to the way
  // from the box to the nearest point of the solid so far shows it.
  bool IsApart(const BoxNode& node, int slot) {
    if (!(Limit() < kInfinity)) return false;
    const Vector3d away = AwayFrom(node, slot);
    const double length = away.norm();
    if (!(length > 0)) return false;
    Plane plane;
    SetPlane(&plane, away / length);
    const double lower_mm = plane.low_mm - HighestOf(node, slot, plane.n);
    if (!(lower_mm > Limit())) return false;
    other_ = plane;
    Skip(lower_mm, plane.n);
    return true;
  }

  void Leaf(std::int32_t first, std::int32_t count) {
    for (std::int32_t i = first; i < first + count && overlaps_ < kMostOverlaps; ++i) {
      const auto corners = mesh_.Corners(mesh_.tree.order[static_cast<std::size_t>(i)]);
      double high = -kInfinity, other_high = -kInfinity;
      for (const Vector3d& p : corners) {
        high = std::max(high, nearest_.n.dot(p));
        other_high = std::max(other_high, other_.n.dot(p));
      }
      const double quick = std::max(nearest_.low_mm - high, other_.low_mm - other_high);
      if (quick > Limit()) {
        Skip(quick, nearest_.n);
        continue;
      }
      if (!IsTriangleApart(i, corners)) Settle(corners);
    }
  }

  // As IsApart.
  bool IsTriangleApart(std::int32_t place, const std::array<Vector3d, 3>& corners) {
    if (!(Limit() < kInfinity)) return false;
    const FlatTriangle& flat = mesh_.flat[static_cast<std::size_t>(place)];
    const FlatClosest closest = ClosestOnTriangle(flat, near_A_);
    const double limit = Limit();
    if (!(closest.distance2 > (limit > 0 ? limit * limit : 0.0))) return false;
    Vector3d away;
    for (int k = 0; k < 3; ++k) away[k] = near_A_[k] - flat.a[k] - closest.px * flat.x[k] - closest.py * flat.y[k];
    Plane plane;
    SetPlane(&plane, away.normalized());
    double high = -kInfinity;
    for (const Vector3d& p : corners) high = std::max(high, plane.n.dot(p));
    const double lower_mm = plane.low_mm - high;
    if (!(lower_mm > Limit())) return false;
    other_ = plane;
    Skip(lower_mm, plane.n);
    return true;
  }

  void Settle(const std::array<Vector3d, 3>& corners) {
    ConvexCore triangle;
    for (const Vector3d& p : corners) triangle.AddPoint(p);
    ConvexGap gap = DistanceOf(a_, triangle, Limit(), nearest_.n);
    if (gap.hulls_meet) {
      const bool deep = depth_ == DepthTest::kYes;
      gap = deep ? OverlapOf(a_, triangle) : MeetingOf(a_, triangle);
      overlaps_ = deep ? overlaps_ + 1 : kMostOverlaps;
    }
    if (gap.lower_mm > Limit()) {
      SetPlane(&other_, gap.axis);
      return Skip(gap.lower_mm, gap.axis);
    }
    if (!found_.Take(gap)) return;
    SetPlane(&nearest_, gap.axis);
    near_A_ = gap.p_A;
  }

  const ConvexCore& a_;
  const TriangleSearch& mesh_;
  const AlignedBox3d bounds_;
  const DepthTest depth_;
  const SolidKernels& kernels_ = ChooseSolidKernels();
  Plane nearest_, other_;   // of the nearest triangle, and one that told another apart
  Vector3d near_A_ = Vector3d::Zero();   // the solid's nearest point so far
  GapRecord found_;
  int overlaps_ = 0;
};

}  // namespace

ConvexGap GapToMesh(const ConvexCore& a, const TriangleSearch& mesh, const ShapeQuery& query) {
  return TreeWalk(a, mesh, query).Run();
}

ConvexGap MeetingOf(const ConvexCore& a, const ConvexCore& b) {
  ConvexGap gap;
  gap.hulls_meet = true;
  gap.lower_mm = -kInfinity;
  gap.p_A = a.AnyPoint();
  gap.p_B = b.AnyPoint();
  return gap;
}

}  // namespace aircut::sim
