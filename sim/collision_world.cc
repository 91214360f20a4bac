#include "sim/collision_world.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <utility>

#include "sim/prepared_shape.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

constexpr double kInfinity = std::numeric_limits<double>::infinity();

double FromLine(const Vector3d& q, const Vector3d& p, const Vector3d& axis) {
  return axis.cross(q - p).norm();
}

// Farthest point of a disc's rim: straight across from p.
double FromDisc(const Vector3d& p, const Vector3d& centre, const CylinderShape& cylinder) {
  const Vector3d axis = (cylinder.to - cylinder.from).normalized();
  const double along = axis.dot(p - centre), across = FromLine(p, centre, axis);
  return std::hypot(along, across + cylinder.radius_mm);
}

// The mesh whose vertices are the extreme points of a shape, if it has one.
const Mesh* MeshOf(const PreparedShape& prepared) {
  if (prepared.mesh()) return &prepared.triangles->mesh;
  const auto* hull = std::get_if<HullShape>(&prepared.shape);
  return hull ? hull->mesh.get() : nullptr;
}

double Reach(const PreparedShape& prepared, const Vector3d& p) {
  if (prepared.half_space()) return kInfinity;
  if (const auto* cylinder = std::get_if<CylinderShape>(&prepared.shape)) {
    return std::max(FromDisc(p, cylinder->from, *cylinder), FromDisc(p, cylinder->to, *cylinder));
  }
  double reach = 0.0;
  if (const Mesh* mesh = MeshOf(prepared)) {
    for (const Vector3d& v : mesh->vertices) reach = std::max(reach, (v - p).norm());
    return reach;
  }
  for (const Ball& ball : prepared.cover) {
    reach = std::max(reach, (ball.centre - p).norm() + ball.radius_mm);
  }
  return reach;
}

double AxisReach(const PreparedShape& prepared, const Vector3d& p, const Vector3d& axis) {
  if (prepared.half_space()) return kInfinity;
  double reach = 0.0;
  if (const Mesh* mesh = MeshOf(prepared)) {
    for (const Vector3d& v : mesh->vertices) {
      reach = std::max(reach, FromLine(v, p, axis));
    }
    return reach;
  }
  for (const Ball& ball : prepared.cover) {
    reach = std::max(reach, FromLine(ball.centre, p, axis) + ball.radius_mm);
  }
  return reach;
}

}  // namespace

struct CollisionWorld::Impl {
  std::vector<Body> bodies;
  PreparedBodies prepared;
};

CollisionWorld::CollisionWorld(std::vector<Body> bodies) {
  auto impl = std::make_unique<Impl>();
  for (const Body& body : bodies) {
    std::vector<PreparedShape> shapes;
    for (const Shape& shape : body.shapes) {
      try {
        shapes.push_back(Prepare(shape));
      } catch (const std::invalid_argument& error) {
        throw std::invalid_argument("body \"" + body.name + "\": " + error.what());
      }
    }
    if (shapes.empty()) throw std::invalid_argument("body \"" + body.name + "\": has no shape");
    impl->prepared.bodies.push_back(std::move(shapes));
  }
  impl->bodies = std::move(bodies);
  impl_ = std::move(impl);
}

CollisionWorld::~CollisionWorld() = default;
CollisionWorld::CollisionWorld(CollisionWorld&&) noexcept = default;

int CollisionWorld::body_count() const { return static_cast<int>(impl_->bodies.size()); }
const Body& CollisionWorld::body(int index) const { return impl_->bodies.at(index); }
const PreparedBodies& CollisionWorld::prepared() const { return impl_->prepared; }

double CollisionWorld::ReachFrom(int index, const Vector3d& p) const {
  double reach = 0.0;
  for (const PreparedShape& shape : impl_->prepared.bodies.at(index)) {
    reach = std::max(reach, Reach(shape, p));
  }
  return reach;
}

double CollisionWorld::ReachFromAxis(int index, const Vector3d& p, const Vector3d& axis) const {
  double reach = 0.0;
  for (const PreparedShape& shape : impl_->prepared.bodies.at(index)) {
    reach = std::max(reach, AxisReach(shape, p, axis));
  }
  return reach;
}

PairDistance CollisionWorld::Distance(int a, const Pose& X_WA, int b, const Pose& X_WB,
                                      double stop_above_mm) const {
  const Pose X_BA = X_WB.inverse() * X_WA;
  PairDistance result;
  result.distance_mm = kInfinity;
  for (const PreparedShape& shape_a : impl_->prepared.bodies.at(a)) {
    for (const PreparedShape& shape_b : impl_->prepared.bodies.at(b)) {
      ShapeQuery query;
      query.a = &shape_a;
      query.b = &shape_b;
      query.X_BA[0] = X_BA;
      query.stop_above_mm = std::min(stop_above_mm, result.distance_mm);
      const ConvexGap gap = GapOf(query);
      if (!(gap.distance_mm < result.distance_mm)) continue;
      result = {gap.distance_mm, X_WB * gap.p_A, X_WB * gap.p_B};
    }
  }
  return result;
}

}  // namespace aircut::sim
