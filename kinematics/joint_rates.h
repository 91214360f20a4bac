#pragma once

#include <optional>

#include <Eigen/LU>

#include "kinematics/arm_model.h"
#include "kinematics/straight_move.h"

namespace aircut::kinematics {

/// Joint rates that give the tool a wanted twist at one place of the arm: of the
/// six joints of the chain, the external axes move as they are told. Immutable.
class JointRates {
 public:
  /// @param q panel values [rad]; @param p_FT tip in the flange [mm].
  JointRates(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FT);

  /// @param twist_A of T seen from the foot, per unit of some parameter;
  /// @param external_rates change of the external axes per unit.
  /// @returns the change of all panel values per unit of that parameter, or
  /// nothing where no finite rates give it (a singular place). At a singular
  /// place that can follow the twist: the smallest rates that do.
  std::optional<JointVector> Solve(const Twist& twist_A,
                                   const JointVector& external_rates = JointVector(0)) const;

  /// @returns the speed of the tip seen from the work [mm per unit] under joint
  /// rates `qd` of the whole arm, external axes included.
  double TipSpeed(const JointVector& qd) const;

 private:
  using Matrix = Eigen::Matrix<double, 6, 6>;
  std::optional<JointVector> SolveSingular(const Twist& scaled) const;

  Matrix J_;                            // rows 0..2 divided by kLength_mm
  Eigen::PartialPivLU<Matrix> factors_;
  bool singular_ = false;
  // Tip as seen from the work, per rate of each external axis, expressed in A.
  Eigen::Matrix<double, 3, Eigen::Dynamic, Eigen::ColMajor, 3, kMaxJoints> external_mm_;
};

/// How the joints move along one short stretch of a move, per unit of the
/// move's own parameter: the cubic through both ends with the rates there.
struct RateBounds {
  JointVector peak;       ///< largest abs(dq/ds)
  JointVector curvature;  ///< largest abs(d2q/ds2)
  JointVector error;      ///< difference of two independent estimates of the mean rate
};

/// @param step change of the joints over the stretch; @param rates_from,
/// rates_to rates at its ends; @param length of the stretch, > 0.
RateBounds BoundRates(const JointVector& step, const JointVector& rates_from,
                      const JointVector& rates_to, double length);

}  // namespace aircut::kinematics
