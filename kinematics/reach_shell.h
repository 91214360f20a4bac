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

}  // namespace aircut::kinematics
