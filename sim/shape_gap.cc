#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/convex_mesh_gap.h"
#include "sim/gap_record.h"
#include "sim/prepared_shape.h"

namespace aircut::sim {
namespace {

using Eigen::AlignedBox3d;
using Eigen::Vector3d;
using kinematics::Pose;

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// A convex shape, a node of a mesh's tree, or one triangle.
struct Element {
  enum class Kind { kWhole, kNode, kLeaf, kTriangle } kind = Kind::kWhole;
  std::int32_t first = 0, count = 0;
  AlignedBox3d box;   // own frame, for nodes and leaves
};

// One side of a query: its shape and the poses it takes in the common frame.
struct Side {
  const PreparedShape* shape;
  const Pose* pose;
  int poses;

  Element Root() const {
    if (!shape->mesh()) return {};
    return {Element::Kind::kNode, 0, 0, shape->box};
  }

  void AddWhole(const Pose& X, ConvexCore* core) const {
    if (const auto* capsule = std::get_if<CapsuleShape>(&shape->shape)) {
      core->AddPoint(X * capsule->from);
      core->AddPoint(X * capsule->to);
      core->radius_mm = capsule->radius_mm;
    } else if (const auto* box = std::get_if<BoxShape>(&shape->shape)) {
      core->AddBox({box->min, box->max}, X);
    } else if (const auto* cylinder = std::get_if<CylinderShape>(&shape->shape)) {
      core->AddCylinder(X * cylinder->from, X * cylinder->to, X.linear() * shape->axis, cylinder->radius_mm);
    } else if (shape->hull) {
      core->AddHull(*shape->hull, shape->box, X);
    }
  }

  ConvexCore Core(const Element& e) const {
    ConvexCore core;
    for (int k = 0; k < poses; ++k) {
      if (e.kind == Element::Kind::kWhole) {
        AddWhole(pose[k], &core);
      } else if (e.kind == Element::Kind::kTriangle) {
        const TriangleSearch& search = *shape->triangles;
        for (const Vector3d& p : search.Corners(search.tree.order[e.first])) {
          core.AddPoint(pose[k] * p);
        }
      } else {
        core.AddBox(e.box, pose[k]);
      }
    }
    return core;
  }

  // The parts of a node or leaf.
  int Parts(const Element& e, Element* out) const {
    int n = 0;
    if (e.kind == Element::Kind::kLeaf) {
      for (int i = 0; i < e.count; ++i) out[n++] = {Element::Kind::kTriangle, e.first + i, 1, {}};
      return n;
    }
    const BoxNode& node = shape->triangles->tree.nodes[e.first];
    for (int slot = 0; slot < 4; ++slot) {
      if (node.child[slot] < 0) continue;
      const auto kind = node.count[slot] > 0 ? Element::Kind::kLeaf : Element::Kind::kNode;
      out[n++] = {kind, node.child[slot], node.count[slot], SlotBox(node, slot)};
    }
    return n;
  }
};

bool Splits(const Element& e) {
  return e.kind == Element::Kind::kNode || e.kind == Element::Kind::kLeaf;
}

ConvexGap AboveHalfSpace(const ConvexCore& a, double z_mm) {
  ConvexGap gap;
  gap.axis = Vector3d::UnitZ();
  gap.p_A = a.Support(-gap.axis) - a.radius_mm * gap.axis;
  gap.p_B = {gap.p_A.x(), gap.p_A.y(), z_mm};
  gap.distance_mm = gap.lower_mm = gap.p_A.z() - z_mm;
  return gap;
}

// Depth-first branch and bound over the pairs of parts of two shapes.
class GapSearch {
 public:
  GapSearch(const Side& a, const Side& b, const ShapeQuery& query)
      : a_(a), b_(b), axis_(query.axis), depth_(query.depth), found_(query.stop_above_mm) {}

  ConvexGap Run() {
    const Element a = a_.Root(), b = b_.Root();
    const Posed posed_a = Place(a_, a);
    Posed posed_b;
    if (!b_.shape->half_space()) posed_b = Place(b_, b);
    Visit(posed_a, posed_b);
    return found_.Result();
  }

 private:
  struct Posed {
    Element element;
    ConvexCore core;
    AlignedBox3d bounds;
  };

  static Posed Place(const Side& side, const Element& element) {
    Posed posed{element, side.Core(element), {}};
    posed.bounds = posed.core.Bounds();
    return posed;
  }

  double Limit() const { return found_.Limit(); }

  ConvexGap Gap(const Posed& a, const Posed& b) {
    if (b_.shape->half_space()) {
      return AboveHalfSpace(a.core, std::get<HalfSpaceShape>(b_.shape->shape).z_mm);
    }
    Vector3d axis = axis_;
    if (!(axis.squaredNorm() > 0)) axis = a.bounds.center() - b.bounds.center();
    if (!(axis.squaredNorm() > 0)) axis = Vector3d::UnitX();
    return DistanceOf(a.core, b.core, Limit(), axis);
  }

  void Settle(const Posed& a, const Posed& b) {
    ConvexGap gap = Gap(a, b);
    if (gap.hulls_meet) {
      gap = depth_ == DepthTest::kYes ? OverlapOf(a.core, b.core) : MeetingOf(a.core, b.core);
      overlaps_ = depth_ == DepthTest::kYes ? overlaps_ + 1 : kMostOverlaps;
    }
    axis_ = gap.axis;
    if (gap.lower_mm > Limit()) return found_.Skip(gap.lower_mm, gap.axis);
    found_.Take(gap);
  }

  // A lower bound for all pairs of parts of a and b.
  double LowerBound(const Posed& a, const Posed& b) {
    if (!b_.shape->half_space()) {
      const double boxes = std::sqrt(a.bounds.squaredExteriorDistance(b.bounds));
      if (boxes > Limit()) return boxes;
    }
    const ConvexGap gap = Gap(a, b);
    if (gap.hulls_meet) return -kInfinity;
    if (gap.lower_mm > Limit()) axis_ = gap.axis;
    return gap.lower_mm;
  }

  struct Part {
    Posed posed;
    double lower_mm;
  };

  void Visit(const Posed& a, const Posed& b) {
    const bool split_a = Splits(a.element), split_b = Splits(b.element);
    if (!split_a && !split_b) return Settle(a, b);
    const bool take_a =
        split_a && (!split_b || a.bounds.sizes().norm() > b.bounds.sizes().norm());
    const Side& side = take_a ? a_ : b_;
    Element parts[8];
    const int count = side.Parts(take_a ? a.element : b.element, parts);
    Part part[8];
    int order[8];
    for (int i = 0; i < count; ++i) {
      part[i].posed = Place(side, parts[i]);
      const bool settled = !Splits(parts[i]) && !Splits(take_a ? b.element : a.element);
      part[i].lower_mm = settled ? -kInfinity
                         : take_a ? LowerBound(part[i].posed, b)
                                  : LowerBound(a, part[i].posed);
      order[i] = i;
    }
    std::stable_sort(order, order + count,
                     [&](int i, int j) { return part[i].lower_mm < part[j].lower_mm; });
    for (int k = 0; k < count && overlaps_ < kMostOverlaps; ++k) {
      const Part& next = part[order[k]];
      if (next.lower_mm > Limit()) {
        found_.Skip(next.lower_mm, axis_);
        continue;
      }
      take_a ? Visit(next.posed, b) : Visit(a, next.posed);
    }
  }

  const Side a_, b_;
  Vector3d axis_;
  const DepthTest depth_;
  GapRecord found_;
  int overlaps_ = 0;
};

// From B's nearest point to A's, as far as their boxes tell, both in B's frame.
Vector3d LikelyAxis(const PreparedShape& a, const PreparedShape& b, const Pose& X_BA) {
  const auto nearest_in = [](const AlignedBox3d& box, const Vector3d& p) {
    return Vector3d(p.cwiseMax(box.min()).cwiseMin(box.max()));
  };
  const Vector3d middle = X_BA * a.box.center(), p_B = nearest_in(b.box, middle);
  const Vector3d p_A = X_BA * nearest_in(a.box, X_BA.inverse(Eigen::Isometry) * p_B);
  for (const Vector3d& axis : {Vector3d(p_A - p_B), Vector3d(middle - p_B), Vector3d(middle - b.box.center())}) {
    if (axis.squaredNorm() > 0) return axis;
  }
  return Vector3d::UnitX();
}

// Of two convex shapes, each at its poses.
ConvexGap BetweenConvex(const Side& a, const Side& b, const ShapeQuery& query) {
  const ConvexCore core_a = a.Core(a.Root()), core_b = b.Core(b.Root());
  const bool known = query.axis.squaredNorm() > 0;
  const Vector3d axis = known ? query.axis : LikelyAxis(*query.a, *query.b, query.X_BA[0]);
  const ConvexGap gap = DistanceOf(core_a, core_b, query.stop_above_mm, axis);
  if (!gap.hulls_meet) return gap;
  return query.depth == DepthTest::kYes ? OverlapOf(core_a, core_b) : MeetingOf(core_a, core_b);
}

// Some piece of `content` lies inside the closed mesh `hull`.
bool HasInside(const PreparedShape& hull, const PreparedShape& content, const Pose& X_HC) {
  if (!hull.closed) return false;
  for (const Vector3d& p_C : content.inner) {
    const Vector3d p = X_HC * p_C;
    if (!hull.box.contains(p)) continue;
    const TriangleSearch::Nearest nearest = hull.triangles->Find(p, 1e30);
    if (hull.triangles->Inside(p, nearest.place, nearest.closest)) return true;
  }
  return false;
}

ConvexGap Flipped(ConvexGap gap, const Pose& X_BA) {
  std::swap(gap.p_A, gap.p_B);
  gap.p_A = X_BA * gap.p_A;
  gap.p_B = X_BA * gap.p_B;
  gap.axis = -(X_BA.linear() * gap.axis);
  return gap;
}

// Two half spaces meet somewhere unless they face each other squarely.
ConvexGap BetweenHalfSpaces(const ShapeQuery& query) {
  const Vector3d up = query.X_BA[0].linear().col(2);
  ConvexGap gap;
  gap.axis = Vector3d::UnitZ();
  gap.distance_mm = gap.lower_mm = -kInfinity;
  if (up.z() != -1.0) return gap;
  gap.p_A = query.X_BA[0] * Vector3d(0, 0, std::get<HalfSpaceShape>(query.a->shape).z_mm);
  gap.p_B = {gap.p_A.x(), gap.p_A.y(), std::get<HalfSpaceShape>(query.b->shape).z_mm};
  gap.distance_mm = gap.lower_mm = gap.p_A.z() - gap.p_B.z();
  return gap;
}

}  // namespace

ConvexGap GapOf(const ShapeQuery& query) {
  if (query.a->half_space() && query.b->half_space()) return BetweenHalfSpaces(query);
  if (query.a->half_space()) {
    ShapeQuery turned = query;
    std::swap(turned.a, turned.b);
    turned.X_BA[0] = query.X_BA[0].inverse();
    turned.axis.setZero();
    return Flipped(GapOf(turned), query.X_BA[0]);
  }
  const Pose identity = Pose::Identity();
  const Side a{query.a, query.X_BA, query.poses}, b{query.b, &identity, 1};
  if (!query.a->mesh() && !query.b->mesh() && !query.b->half_space()) return BetweenConvex(a, b, query);
  const bool to_tree = !query.a->mesh() && query.b->mesh();
  ConvexGap gap = to_tree ? GapToMesh(a.Core(a.Root()), *query.b->triangles, query) : GapSearch(a, b, query).Run();
  if (query.inside == InsideTest::kNo || !(gap.distance_mm > 0)) return gap;
  if (HasInside(*query.b, *query.a, query.X_BA[0]) ||
      HasInside(*query.a, *query.b, query.X_BA[0].inverse())) {
    // At least this far from any way out.
    gap.distance_mm = gap.lower_mm = -gap.distance_mm;
  }
  return gap;
}

}  // namespace aircut::sim
