#pragma once

#include <memory>
#include <string>
#include <vector>

#include "kinematics/frame.h"
#include "sim/shape.h"

namespace aircut::sim {

struct PreparedBodies;

/// A named rigid body made of shapes, all in the body's own frame [mm].
struct Body {
  std::string name;
  std::vector<Shape> shapes;
};

struct PairDistance {
  double distance_mm = 0.0;      ///< negative when they overlap
  Eigen::Vector3d p_WA, p_WB;    ///< witness points on each, in W
};

/// Distances between named bodies at given poses. Convex shapes and triangle
/// trees; GJK in double precision without margins. Immutable; any thread.
class CollisionWorld {
 public:
  explicit CollisionWorld(std::vector<Body> bodies);
  ~CollisionWorld();
  CollisionWorld(CollisionWorld&&) noexcept;

  int body_count() const;
  const Body& body(int index) const;
  /// Largest distance of any point of the body from `p` given in its own frame
  /// [mm]; infinite for a half space.
  double ReachFrom(int index, const Eigen::Vector3d& p) const;
  /// Largest distance of any point of the body from the line through `p` along
  /// unit `axis`, own frame [mm]; for a cylinder never less, at most its radius more.
  double ReachFromAxis(int index, const Eigen::Vector3d& p, const Eigen::Vector3d& axis) const;

  /// Signed distance of two bodies; penetration depth as a negative value.
  /// Exact within kDistanceBound_mm while apart; when they overlap the sign is
  /// sure and the depth is an estimate. A mesh is a surface: a body wholly
  /// inside a closed mesh counts as overlapping.
  /// @param stop_above_mm may return any value > this once it is known to be larger.
  PairDistance Distance(int a, const kinematics::Pose& X_WA, int b, const kinematics::Pose& X_WB,
                        double stop_above_mm = 1e30) const;

  static constexpr double kDistanceBound_mm = 0.01;

  /// What the searches over time work on; see sim/prepared_shape.h.
  const PreparedBodies& prepared() const;

 private:
  struct Impl;
  std::unique_ptr<const Impl> impl_;
};

}  // namespace aircut::sim
