#include "verify/shape_mesh.h"

#include <cmath>

#include "kinematics/units.h"

namespace aircut::verify {
namespace {

constexpr int kAround = 48, kCapRings = 12;

// A circle of a surface of revolution: its place along the axis and its radius.
struct Ring {
  double along_mm = 0, radius_mm = 0;
};

// Surface of revolution about the line from `from` along `axis` (unit); the first
// and last ring have no radius.
sim::Mesh Revolved(const Eigen::Vector3d& from, const Eigen::Vector3d& axis, const std::vector<Ring>& rings) {
  const Eigen::Vector3d u = axis.unitOrthogonal(), v = axis.cross(u);
  sim::Mesh mesh;
  for (const Ring& ring : rings) {
    for (int i = 0; i < kAround; ++i) {
      const double angle = 2 * kinematics::kPi * i / kAround;
      mesh.vertices.push_back(from + ring.along_mm * axis +
                              ring.radius_mm * (std::cos(angle) * u + std::sin(angle) * v));
    }
  }
  for (int r = 0; r + 1 < static_cast<int>(rings.size()); ++r) {
    for (int i = 0; i < kAround; ++i) {
      const int a = r * kAround + i, b = r * kAround + (i + 1) % kAround;
      mesh.triangles.push_back({a, b, a + kAround});
      mesh.triangles.push_back({b, b + kAround, a + kAround});
    }
  }
  return mesh;
}

Eigen::Vector3d DirectionOf(const Eigen::Vector3d& along) {
  const double length = along.norm();
  return length > 0 ? Eigen::Vector3d(along / length) : Eigen::Vector3d::UnitZ();
}

sim::Mesh CapsuleSurface(const sim::CapsuleShape& capsule) {
  const Eigen::Vector3d along = capsule.to - capsule.from;
  const double length_mm = along.norm(), r = capsule.radius_mm;
  std::vector<Ring> rings;
  for (int i = 0; i <= 2 * kCapRings + 1; ++i) {
    const bool upper = i > kCapRings;   // the equator comes twice, once at each end
    const double angle = kinematics::kPi * (upper ? i - 1 : i) / (2 * kCapRings);
    rings.push_back({(upper ? length_mm : 0.0) - r * std::cos(angle), r * std::sin(angle)});
  }
  return Revolved(capsule.from, DirectionOf(along), rings);
}

sim::Mesh CylinderSurface(const sim::CylinderShape& cylinder) {
  const Eigen::Vector3d along = cylinder.to - cylinder.from;
  const double length_mm = along.norm(), r = cylinder.radius_mm;
  return Revolved(cylinder.from, DirectionOf(along), {{0, 0}, {0, r}, {length_mm, r}, {length_mm, 0}});
}

struct SurfaceMaker {
  sim::Mesh operator()(const sim::CapsuleShape& shape) const { return CapsuleSurface(shape); }
  sim::Mesh operator()(const sim::CylinderShape& shape) const { return CylinderSurface(shape); }
  sim::Mesh operator()(const sim::BoxShape& shape) const { return sim::BoxMesh(shape.min, shape.max); }
  sim::Mesh operator()(const sim::HalfSpaceShape&) const { return {}; }
  sim::Mesh operator()(const sim::MeshShape& shape) const { return shape.mesh ? *shape.mesh : sim::Mesh{}; }
  // The mesh it was made of, which the hull holds.
  sim::Mesh operator()(const sim::HullShape& shape) const { return shape.mesh ? *shape.mesh : sim::Mesh{}; }
};

}  // namespace

sim::Mesh RevolvedSurface(const std::vector<Eigen::Vector2d>& profile) {
  std::vector<Ring> rings = {{profile.front().y(), 0}};
  for (const Eigen::Vector2d& p : profile) rings.push_back({p.y(), p.x()});
  rings.push_back({profile.back().y(), 0});
  return Revolved(Eigen::Vector3d::Zero(), Eigen::Vector3d::UnitZ(), rings);
}

sim::Mesh SurfaceOf(const sim::Shape& shape) { return std::visit(SurfaceMaker{}, shape); }

}  // namespace aircut::verify
