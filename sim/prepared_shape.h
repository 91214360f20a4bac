#pragma once

#include <memory>
#include <vector>

#include "sim/convex_core.h"
#include "sim/shape.h"
#include "sim/triangle_search.h"

namespace aircut::sim {

struct Ball {
  Eigen::Vector3d centre;
  double radius_mm = 0.0;
};

/// A shape with what its distance queries need, in its body's frame. Immutable.
struct PreparedShape {
  Shape shape;
  Eigen::AlignedBox3d box;           ///< empty for a half space
  std::vector<Ball> cover;           ///< the shape lies in the hull of these balls; none: half space
  std::shared_ptr<const TriangleSearch> triangles;   ///< of a mesh, else null
  std::shared_ptr<const HullPoints> hull;            ///< of a hull: its corners, else null
  bool closed = false;               ///< a closed mesh: it has an inside
  std::vector<Eigen::Vector3d> inner;  ///< a point of every connected piece
  Eigen::Vector3d axis = Eigen::Vector3d::UnitZ();   ///< unit, of a cylinder

  bool half_space() const { return std::holds_alternative<HalfSpaceShape>(shape); }
  bool mesh() const { return triangles != nullptr; }
};

/// @throws std::invalid_argument for a shape without size or a value that is not finite.
PreparedShape Prepare(const Shape& shape);

/// The shapes of the bodies of a world.
struct PreparedBodies {
  std::vector<std::vector<PreparedShape>> bodies;
};

enum class InsideTest { kYes, kNo };
/// Of two that overlap: how deep, or only that they do (then the depth is given as 0,
/// its lower bound as -infinity, and the witnesses are no more than points of each).
enum class DepthTest { kYes, kNo };

/// Shape A at one pose, or swept between two, against shape B, in B's frame.
/// A swept convex shape stands for the hull of both poses; a swept mesh for
/// the hull of both poses of each of its triangles.
struct ShapeQuery {
  const PreparedShape* a = nullptr;
  const PreparedShape* b = nullptr;
  kinematics::Pose X_BA[2] = {kinematics::Pose::Identity(), kinematics::Pose::Identity()};
  int poses = 1;
  double stop_above_mm = 1e30;
  Eigen::Vector3d axis = Eigen::Vector3d::Zero();   ///< first direction to try; 0 = none known
  InsideTest inside = InsideTest::kYes;
  DepthTest depth = DepthTest::kYes;
};

/// @returns the gap in B's frame. Above `stop_above_mm` distance_mm and
/// lower_mm are both a proven lower bound; below, distance_mm is exact within
/// 1e-6 mm and lower_mm never above the truth. An overlap is an estimate.
ConvexGap GapOf(const ShapeQuery& query);

}  // namespace aircut::sim
