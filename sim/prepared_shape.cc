#include "sim/prepared_shape.h"

#include <cmath>
#include <numeric>
#include <stdexcept>
#include <string>
#include <type_traits>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

void Require(bool ok, const std::string& field, double value, const std::string& bound) {
  if (ok) return;
  throw std::invalid_argument(field + " = " + std::to_string(value) + " must be " + bound);
}

void RequireRound(const Vector3d& from, const Vector3d& to, double radius_mm) {
  Require(from.allFinite() && to.allFinite(), "length", (to - from).norm(), "finite");
  Require(radius_mm > 0 && std::isfinite(radius_mm), "radius_mm", radius_mm, "> 0 and finite");
}

// The vertex with which each connected piece of a mesh begins.
std::vector<Vector3d> PiecePoints(const Mesh& mesh, const MeshNormals& normals) {
  std::vector<std::int32_t> parent(normals.place.size());
  std::iota(parent.begin(), parent.end(), 0);
  const auto root = [&parent](std::int32_t i) {
    while (parent[i] != i) i = parent[i] = parent[parent[i]];
    return i;
  };
  for (const auto& place : normals.place_of) {
    parent[root(place[1])] = root(place[0]);
    parent[root(place[2])] = root(place[0]);
  }
  std::vector<Vector3d> points;
  std::vector<bool> seen(parent.size(), false);
  for (std::size_t t = 0; t < normals.place_of.size(); ++t) {
    const std::int32_t piece = root(normals.place_of[t][0]);
    if (seen[piece]) continue;
    seen[piece] = true;
    points.push_back(mesh.vertices[mesh.triangles[t][0]]);
  }
  return points;
}

void Fill(const CapsuleShape& s, PreparedShape* out) {
  RequireRound(s.from, s.to, s.radius_mm);
  out->cover = {{s.from, s.radius_mm}, {s.to, s.radius_mm}};
  out->inner = {s.from};
}

void Fill(const CylinderShape& s, PreparedShape* out) {
  RequireRound(s.from, s.to, s.radius_mm);
  Require((s.to - s.from).norm() > 0, "length", (s.to - s.from).norm(), "> 0");
  out->axis = (s.to - s.from).normalized();
  out->cover = {{s.from, s.radius_mm}, {s.to, s.radius_mm}};
  out->inner = {s.from};
}

void CoverBox(const Eigen::AlignedBox3d& box, PreparedShape* out) {
  for (int k = 0; k < 8; ++k) {
    out->cover.push_back({box.corner(static_cast<Eigen::AlignedBox3d::CornerType>(k)), 0.0});
  }
}

void Fill(const BoxShape& s, PreparedShape* out) {
  for (int i = 0; i < 3; ++i) {
    const double size = s.max[i] - s.min[i];
    Require(size >= 0 && std::isfinite(size), "box size", size, ">= 0 and finite");
  }
  CoverBox({s.min, s.max}, out);
  out->inner = {s.min};
}

void Fill(const HalfSpaceShape& s, PreparedShape*) {
  Require(std::isfinite(s.z_mm), "z_mm", s.z_mm, "finite");
}

void Fill(const MeshShape& s, PreparedShape* out) {
  if (!s.mesh) throw std::invalid_argument("mesh shape without a mesh");
  out->triangles = std::make_shared<const TriangleSearch>(*s.mesh);
  out->closed = Inspect(*s.mesh).closed;
  out->inner = PiecePoints(out->triangles->mesh, out->triangles->normals);
  CoverBox(out->triangles->box, out);
}

// The points farthest along the directions to a finely ruled cube.
std::vector<bool> FarthestPoints(const std::vector<Vector3d>& points) {
  constexpr int kRuled = 5;
  std::vector<bool> is_farthest(points.size(), false);
  for (int k = 0; k < kRuled * kRuled * kRuled; ++k) {
    const Eigen::Array3i at(k % kRuled, k / kRuled % kRuled, k / kRuled / kRuled);
    if ((at > 0 && at < kRuled - 1).all()) continue;   // inside the cube
    const Vector3d n = (at - kRuled / 2).cast<double>().matrix();
    std::size_t farthest = 0;
    for (std::size_t i = 1; i < points.size(); ++i) {
      if (n.dot(points[i]) > n.dot(points[farthest])) farthest = i;
    }
    is_farthest[farthest] = true;
  }
  return is_farthest;
}

// Leaves out what surely lies inside the hull of the others.
std::vector<Vector3d> CornersOfHull(const std::vector<Vector3d>& points) {
  const std::vector<bool> is_farthest = FarthestPoints(points);
  std::vector<Vector3d> corners;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (is_farthest[i]) corners.push_back(points[i]);
  }
  const HullPoints hull(corners);
  ConvexCore inner;
  inner.AddHull(hull, Eigen::AlignedBox3d(points.front(), points.front()), kinematics::Pose::Identity());
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (is_farthest[i]) continue;
    ConvexCore point;
    point.AddPoint(points[i]);
    const Vector3d from_middle = points[i] - hull.Point(0);
    const bool somewhere = from_middle.squaredNorm() > 0;
    if (somewhere && !DistanceOf(point, inner, 1e-6, from_middle).hulls_meet) corners.push_back(points[i]);
  }
  return corners;
}

void Fill(const HullShape& s, PreparedShape* out) {
  if (!s.mesh || s.mesh->vertices.empty()) throw std::invalid_argument("hull shape without a vertex");
  Eigen::AlignedBox3d box;
  for (const Vector3d& p : s.mesh->vertices) {
    Require(p.allFinite(), "vertex", p.norm(), "finite");
    box.extend(p);
  }
  out->hull = std::make_shared<const HullPoints>(CornersOfHull(s.mesh->vertices));
  out->inner = {s.mesh->vertices.front()};
  CoverBox(box, out);
}

}  // namespace

PreparedShape Prepare(const Shape& shape) {
  PreparedShape out;
  out.shape = shape;
  std::visit([&out](const auto& s) { Fill(s, &out); }, shape);
  for (const Ball& ball : out.cover) {
    const Vector3d reach = Vector3d::Constant(ball.radius_mm);
    out.box.extend(Vector3d(ball.centre - reach));
    out.box.extend(Vector3d(ball.centre + reach));
  }
  return out;
}

}  // namespace aircut::sim
