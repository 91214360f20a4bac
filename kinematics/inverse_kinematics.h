#pragma once

#include <array>
#include <memory>
#include <string>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// Which of the (at most eight) closed-form branches a solution belongs to.
/// `id` = 4 * (shoulder turned over) + 2 * (elbow turned) + (wrist flipped):
/// constant along a continuous motion that crosses no singularity.
struct Posture {
  int id = 0;
};

struct IkSolution {
  JointVector q;    ///< panel values [rad], each within pi of the middle of its range
  Posture posture;
  double wrist_sin = 0.0;     ///< abs(sin of the wrist bend): 0 at the wrist singularity
};

/// Up to eight solutions, without heap.
struct IkSolutions {
  std::array<IkSolution, 8> items;
  int count = 0;
  const IkSolution* begin() const { return items.data(); }
  const IkSolution* end() const { return items.data() + count; }
};

/// Closed-form inverse kinematics of a six-axis arm whose second and third
/// axes are parallel, square to the first, and whose last three meet in a point.
/// Works for both forms of ArmModel: the geometry is read off the joint axes.
/// Immutable; made once per arm, used from any thread.
/// Source: Brandstoetter, Angerer, Hofbaur, Austrian Robotics Workshop 2014.
class InverseKinematics {
 public:
  /// @throws std::invalid_argument saying which condition of the geometry the
  /// arm does not meet, with the value and its bound.
  explicit InverseKinematics(const ArmModel& arm);

  /// All branches that reach the pose, whatever the joint ranges.
  /// Solutions with the wrist exactly straight (sine of the bend below 1e-12)
  /// carry joint 4 = 0 (model angle), one for each shoulder and elbow. At a
  /// stretched elbow, and where the two shoulders meet, coinciding solutions
  /// are given under both posture ids. With the wrist centre on axis 1 or 2,
  /// that joint is open and stands at an angle of our choice.
  /// Poses up to 1e-12 of the reach outside it count as reached. A pose that
  /// is not finite or not a rotation within 1e-9 has no solution.
  /// @param X_BF flange pose in B [mm]; @returns 0 to 8 solutions; each
  /// reproduces the pose within 1e-9 mm per mm of reach and 1e-9 rad.
  IkSolutions Solve(const Pose& X_BF) const;

 private:
  struct Geometry;
  std::shared_ptr<const Geometry> geometry_;
};

/// @returns true if InverseKinematics can be made for the arm.
bool HasClosedForm(const ArmModel& arm);

}  // namespace aircut::kinematics
