#include "sim/winding_number.h"

#include <cmath>
#include <utility>

#include <tbb/parallel_for.h>

namespace aircut::sim {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;

constexpr double kFullTurn_sr = 4.0 * 3.14159265358979323846;
constexpr int kLeafTriangles = 8;

// Solid angle of a triangle [sr], positive seen from behind. Nothing in its own plane:
// the mean of both sides, which is what makes a point of a face half inside.
double SolidAngle(const Vector3d& a, const Vector3d& b, const Vector3d& c) {
  const double det = a.dot(b.cross(c));
  if (det == 0.0) return 0.0;
  const double la = a.norm(), lb = b.norm(), lc = c.norm();
  return 2.0 * std::atan2(det, la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb);
}

double SolidAngleOf(const Mesh& mesh, std::int32_t triangle, const Vector3d& p) {
  const auto& t = mesh.triangles[static_cast<std::size_t>(triangle)];
  return SolidAngle(mesh.vertices[static_cast<std::size_t>(t[0])] - p,
                    mesh.vertices[static_cast<std::size_t>(t[1])] - p,
                    mesh.vertices[static_cast<std::size_t>(t[2])] - p);
}

}  // namespace

double WindingNumber(const Mesh& mesh, const Vector3d& p) {
  double sum = 0.0;
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    sum += SolidAngleOf(mesh, static_cast<std::int32_t>(t), p);
  }
  return sum / kFullTurn_sr;
}

WindingField::WindingField(Mesh mesh) : mesh_(std::move(mesh)) {
  std::vector<Eigen::AlignedBox3d> boxes(mesh_.triangles.size());
  for (std::size_t t = 0; t < boxes.size(); ++t) {
    for (const std::int32_t v : mesh_.triangles[t]) boxes[t].extend(mesh_.vertices[static_cast<std::size_t>(v)]);
  }
  tree_ = BuildBoxTree(boxes, kLeafTriangles);
  groups_.resize(4 * tree_.nodes.size());
  for (std::size_t node = 0; node < tree_.nodes.size(); ++node) {
    for (int slot = 0; slot < 4; ++slot) {
      if (tree_.nodes[node].child[slot] < 0) continue;
      groups_[4 * node + static_cast<std::size_t>(slot)] =
          GroupOf(PlacesUnder(static_cast<std::int32_t>(node), slot));
    }
  }
}

std::vector<std::int32_t> WindingField::PlacesUnder(std::int32_t node, int slot) const {
  std::vector<std::int32_t> places;
  std::vector<std::pair<std::int32_t, int>> open = {{node, slot}};
  while (!open.empty()) {
    const auto [n, s] = open.back();
    open.pop_back();
    const BoxNode& at = tree_.nodes[static_cast<std::size_t>(n)];
    for (int i = 0; i < at.count[s]; ++i) places.push_back(at.child[s] + i);
    if (at.count[s] > 0) continue;
    for (int k = 0; k < 4; ++k) {
      if (tree_.nodes[static_cast<std::size_t>(at.child[s])].child[k] >= 0) open.emplace_back(at.child[s], k);
    }
  }
  return places;
}

WindingField::Group WindingField::GroupOf(const std::vector<std::int32_t>& places) const {
  Group group;
  const auto corner = [&](std::int32_t place, int k) -> const Vector3d& {
    const auto t = static_cast<std::size_t>(tree_.order[static_cast<std::size_t>(place)]);
    return mesh_.vertices[static_cast<std::size_t>(mesh_.triangles[t][static_cast<std::size_t>(k)])];
  };
  const auto area = [&](std::int32_t place) -> Vector3d {
    return 0.5 * (corner(place, 1) - corner(place, 0)).cross(corner(place, 2) - corner(place, 0));
  };
  Vector3d weighted = Vector3d::Zero();
  for (const std::int32_t place : places) {
    const double size = area(place).norm();
    group.size_mm2 += size;
    weighted += size / 3.0 * (corner(place, 0) + corner(place, 1) + corner(place, 2));
  }
  group.middle = group.size_mm2 > 0.0 ? Vector3d(weighted / group.size_mm2) : corner(places.front(), 0);
  for (const std::int32_t place : places) {
    const Vector3d centroid = (corner(place, 0) + corner(place, 1) + corner(place, 2)) / 3.0;
    group.area += area(place);
    group.first += (centroid - group.middle) * area(place).transpose();
    for (int k = 0; k < 3; ++k) {
      const double r = (corner(place, k) - group.middle).norm();
      group.radius_mm = r > group.radius_mm ? r : group.radius_mm;
    }
  }
  return group;
}

// With y from p to a place, the solid angle is the sum of y.dA / |y|^3. About the
// middle, y0 away: y0.A / r^3 + trace((I / r^3 - 3 y0 y0^T / r^5) first). What is left
// out is at most half the largest second derivative, 6 / |y|^4, times the area's second
// moment, at most size * radius^2.
WindingField::Value WindingField::Sum(const Vector3d& p, double far, std::int32_t left_out) const {
  double sum = 0.0, bound = 0.0;
  std::int32_t stack[kBoxTreeStack];
  int top = 0;
  stack[top++] = 0;
  while (top > 0) {
    const auto n = static_cast<std::size_t>(stack[--top]);
    const BoxNode& node = tree_.nodes[n];
    for (int slot = 0; slot < 4; ++slot) {
      if (node.child[slot] < 0) continue;
      const Group& group = groups_[4 * n + static_cast<std::size_t>(slot)];
      const Vector3d y = group.middle - p;
      const double r = y.norm();
      if (r > far * group.radius_mm) {
        const double per_r3 = 1.0 / (r * r * r), near2 = (r - group.radius_mm) * (r - group.radius_mm);
        sum += per_r3 * (y.dot(group.area) + group.first.trace() - 3.0 * y.dot(group.first * y) / (r * r));
        bound += 3.0 * group.size_mm2 * group.radius_mm * group.radius_mm / (near2 * near2);
      } else if (node.count[slot] == 0) {
        stack[top++] = node.child[slot];
      } else {
        for (int i = 0; i < node.count[slot]; ++i) {
          const std::int32_t t = tree_.order[static_cast<std::size_t>(node.child[slot] + i)];
          if (t != left_out) sum += SolidAngleOf(mesh_, t, p);
        }
      }
    }
  }
  return {sum / kFullTurn_sr, bound / kFullTurn_sr + 1e-12};
}

WindingField::Value WindingField::OnTriangle(std::int32_t triangle, double far) const {
  Vector3d middle = Vector3d::Zero();
  for (const std::int32_t v : mesh_.triangles[static_cast<std::size_t>(triangle)]) {
    middle += mesh_.vertices[static_cast<std::size_t>(v)] / 3.0;
  }
  return Sum(middle, far, triangle);
}

bool WindingField::Inside(const Vector3d& p) const {
  for (const double far : {4.0, 8.0, 16.0}) {
    const Value value = At(p, far);
    if (std::abs(value.number - 0.5) > value.bound) return value.number > 0.5;
  }
  return WindingNumber(mesh_, p) > 0.5;
}

namespace {

// Other parts of a surface without borders add whole turns only, so a coarse answer will
// do: the series is within a few hundredths from twice a group's radius on.
bool IsAlone(const WindingField& field, std::size_t triangle) {
  return std::abs(field.OnTriangle(static_cast<std::int32_t>(triangle), 2.0).number - 0.5) < 0.25;
}

}  // namespace

int CountEnclosed(const Mesh& mesh, const WindingField& field, int most) {
  const std::size_t n = mesh.triangles.size(), step = 1 + (n - 1) / static_cast<std::size_t>(most);
  std::vector<std::uint8_t> enclosed((n + step - 1) / step, 0);
  tbb::parallel_for(std::size_t{0}, enclosed.size(),
                    [&](std::size_t i) { enclosed[i] = IsAlone(field, i * step) ? 0 : 1; });
  int count = 0;
  for (const std::uint8_t one : enclosed) count += one;
  return count;
}

std::vector<std::uint8_t> PlainTriangles(const Mesh& mesh, const WindingField& field) {
  const std::size_t n = mesh.triangles.size();
  std::vector<std::uint8_t> alone(n, 0);
  tbb::parallel_for(std::size_t{0}, n, [&](std::size_t t) {
    alone[t] = IsAlone(field, t) ? 1 : 0;
  });
  std::vector<std::uint8_t> mixed(mesh.vertices.size(), 0);
  for (std::size_t t = 0; t < n; ++t) {
    for (const std::int32_t v : mesh.triangles[t]) {
      if (alone[t] == 0) mixed[static_cast<std::size_t>(v)] = 1;
    }
  }
  std::vector<std::uint8_t> plain(n, 1);
  for (std::size_t t = 0; t < n; ++t) {
    for (const std::int32_t v : mesh.triangles[t]) {
      if (mixed[static_cast<std::size_t>(v)] != 0) plain[t] = 0;
    }
  }
  return plain;
}

}  // namespace aircut::sim
