#pragma once

#include "kinematics/ortho_parallel.h"

namespace aircut::kinematics {

/// The space that the wrist centre can get to without joint ranges: between
/// two tori around axis 1. Immutable.
class ReachShell {
 public:
  /// @throws std::invalid_argument where the arm has no closed form.
  explicit ReachShell(const ArmModel& arm);

  /// @returns how far the wrist centre of the pose lies outside [mm], measured
  /// along the line from joint 2; <= 0 inside.
  double Beyond_mm(const Pose& X_BF) const;

  /// @returns the distance of the stretched wrist centre from axis 2 [mm].
  double outer_mm() const { return outer_mm_; }

 private:
  OrthoParallelGeometry geometry_;
  double outer_mm_ = 0.0, inner_mm_ = 0.0;
};

/// A ball that the flange of any chain of turning joints cannot leave: one point
/// of each axis is chosen so that the way from axis to axis through them is as
/// short as can be; both ends of each part ride on one link, so its length stays,
/// and a straightened way is the farthest that the last axis gets. Immutable.
class ChainReach {
 public:
  explicit ChainReach(const ArmModel& arm);

  /// @returns how far the pose [mm, from the foot] lies outside for certain; <= 0
  /// where that cannot be said.
  double Beyond_mm(const Pose& X_AF) const;

  /// @returns the length of the straightened way from axis 1 to the last axis [mm].
  double outer_mm() const { return outer_mm_; }

 private:
  Eigen::Vector3d p_A1_, p_FN_;   // of the first axis, and of the last one in the flange
  double outer_mm_ = 0.0;
};

}  // namespace aircut::kinematics
