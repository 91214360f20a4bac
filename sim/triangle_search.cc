#include "sim/triangle_search.h"

#include <cfloat>
#include <cmath>
#include <stdexcept>
#include <string>
#include <utility>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr int kLeafTriangles = 4;

typedef float F4 __attribute__((vector_size(16)));

F4 Load(const float* p) { return F4{p[0], p[1], p[2], p[3]}; }

// A query point for float boxes, and how to bound what rounding does to it.
struct FloatPoint {
  float x, y, z;
  double slack_mm;

  explicit FloatPoint(const Vector3d& p)
      : x(static_cast<float>(p.x())),
        y(static_cast<float>(p.y())),
        z(static_cast<float>(p.z())),
        slack_mm(2e-7 * p.cwiseAbs().maxCoeff()) {}

  // Boxes whose float distance is larger hold nothing nearer than `distance_mm`.
  float Limit2(double distance_mm) const {
    const double limit = distance_mm + slack_mm;
    const double limit2 = limit * limit * (1.0 + 1e-5);
    return limit2 < 1e38 ? static_cast<float>(limit2) + FLT_MIN : FLT_MAX;
  }
};

inline F4 BoxDistance2(const BoxNode& node, const FloatPoint& p) {
  const F4 zero = {};
  F4 sum = {};
  const float at[3] = {p.x, p.y, p.z};
  for (int axis = 0; axis < 3; ++axis) {
    const F4 below = Load(node.low[axis]) - at[axis], above = at[axis] - Load(node.high[axis]);
    F4 d = below > above ? below : above;
    d = d > zero ? d : zero;
    sum += d * d;
  }
  return sum;
}

struct Pending {
  float distance2;
  std::int32_t child, count;
};

// Children within `limit2`, farthest first; @returns how many.
inline int SortedChildren(const BoxNode& node, const FloatPoint& p, float limit2, Pending* out) {
  const F4 d2 = BoxDistance2(node, p);
  int n = 0;
  for (int slot = 0; slot < 4; ++slot) {
    if (!(d2[slot] <= limit2)) continue;
    int place = n++;
    for (; place > 0 && out[place - 1].distance2 < d2[slot]; --place) out[place] = out[place - 1];
    out[place] = {d2[slot], node.child[slot], node.count[slot]};
  }
  return n;
}

void RequireUsable(const Mesh& mesh) {
  if (mesh.triangles.empty()) {
    throw std::invalid_argument("mesh.triangles = 0 must be at least 1");
  }
  for (std::size_t i = 0; i < mesh.vertices.size(); ++i) {
    if (mesh.vertices[i].allFinite()) continue;
    throw std::invalid_argument("mesh.vertices[" + std::to_string(i) + "] must be finite");
  }
  const auto vertices = static_cast<std::int32_t>(mesh.vertices.size());
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    for (const std::int32_t v : mesh.triangles[t]) {
      if (v >= 0 && v < vertices) continue;
      throw std::invalid_argument("mesh.triangles[" + std::to_string(t) + "] = " +
                                  std::to_string(v) + " must be in [0, vertices - 1]");
    }
  }
}

}  // namespace

TriangleSearch::TriangleSearch(Mesh mesh_in, InsideBy inside_by) {
  RequireUsable(mesh_in);
  mesh = std::move(mesh_in);
  const auto triangles = static_cast<int>(mesh.triangles.size());
  std::vector<Eigen::AlignedBox3d> boxes(triangles);
  for (int t = 0; t < triangles; ++t) {
    for (const Vector3d& corner : Corners(t)) boxes[t].extend(corner);
    box.extend(boxes[t]);
  }
  tree = BuildBoxTree(boxes, kLeafTriangles);
  flat.reserve(triangles);
  for (const std::int32_t t : tree.order) flat.push_back(FlatTriangle::From(Corners(t)));
  normals = PseudoNormals(mesh);
  if (inside_by == InsideBy::kNormals) return;
  winding = std::make_shared<const WindingField>(mesh);
  plain = PlainTriangles(mesh, *winding);
}

TriangleSearch::Nearest TriangleSearch::Find(const Vector3d& p, double within_mm) const {
  Nearest best;
  best.closest.distance2 = within_mm * within_mm * (1.0 + 1e-15) + DBL_MIN;
  const FloatPoint fp(p);
  float limit2 = fp.Limit2(within_mm);
  Pending stack[kBoxTreeStack];
  int top = 0;
  stack[top++] = {0.0F, 0, 0};
  while (top > 0) {
    const Pending next = stack[--top];
    if (next.distance2 > limit2) continue;
    if (next.count == 0) {
      top += SortedChildren(tree.nodes[next.child], fp, limit2, stack + top);
      continue;
    }
    for (int i = next.child; i < next.child + next.count; ++i) {
      const FlatClosest found = ClosestOnTriangle(flat[i], p);
      if (!(found.distance2 < best.closest.distance2)) continue;
      best = {i, found};
      limit2 = fp.Limit2(std::sqrt(found.distance2));
    }
  }
  return best;
}

std::vector<int> TriangleSearch::Within(const Vector3d& p, double reach_mm, int most) const {
  std::vector<int> found;
  const FloatPoint fp(p);
  const float limit2 = fp.Limit2(reach_mm);
  const double reach2 = reach_mm * reach_mm;
  Pending stack[kBoxTreeStack];
  int top = 0;
  stack[top++] = {0.0F, 0, 0};
  while (top > 0) {
    const Pending next = stack[--top];
    if (next.count == 0) {
      top += SortedChildren(tree.nodes[next.child], fp, limit2, stack + top);
      continue;
    }
    for (int i = next.child; i < next.child + next.count; ++i) {
      if (ClosestOnTriangle(flat[i], p).distance2 <= reach2) found.push_back(i);
    }
    if (static_cast<int>(found.size()) > most) return {};
  }
  return found;
}

bool TriangleSearch::Inside(const Vector3d& p, int place, const FlatClosest& closest) const {
  if (winding != nullptr && !plain[static_cast<std::size_t>(tree.order[place])]) return winding->Inside(p);
  const FlatTriangle& f = flat[place];
  const Vector3d away = p - InSpace(f, closest.px, closest.py);
  if (closest.feature == TriangleFeature::kInside) return away.dot(f.normal()) < 0.0;
  const int triangle = tree.order[place], k = static_cast<int>(closest.feature);
  const Vector3d& normal = k < 3 ? normals.place[normals.place_of[triangle][k]]
                                 : normals.edge[normals.edge_of[triangle][k - 3]];
  return away.dot(normal) < 0.0;
}

}  // namespace aircut::sim
