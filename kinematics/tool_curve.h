#pragma once

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// Velocity of the tip and angular velocity of the tool, both in the foot frame A.
using Twist = Eigen::Matrix<double, 6, 1>;

/// A piece of the tool's way over the workpiece and what it asks of the six
/// joints, seen from their foot A. Its own parameter runs over `length()`, its
/// share over [0, 1], both even in each other.
class ToolCurve {
 public:
  virtual ~ToolCurve() = default;

  /// In the curve's own parameter: mm, or rad where the tip rests; > 0.
  virtual double length() const = 0;
  /// Upper bound of the travel of the tip [mm] and of the turn of the tool [rad].
  virtual double travel_mm() const = 0;
  virtual double turn_rad() const = 0;
  virtual const Pose& X_FT() const = 0;

  /// @returns X_AF at `share`.
  virtual Pose FlangePose(double share) const = 0;
  /// @returns the twist of T seen from A per unit of the parameter at `share`.
  virtual Twist TwistInFoot(double share) const = 0;
  /// @returns the values of the external axes at `share`, and their change per
  /// unit of the parameter.
  virtual JointVector External(double share) const = 0;
  virtual JointVector ExternalRates(double share) const = 0;
  /// @returns the speed of the tip over the workpiece per unit of the parameter.
  virtual double TipSpeed(double share) const = 0;
  /// @returns the curvature of the tip's way over the workpiece [1/mm].
  virtual double Curvature() const = 0;
};

}  // namespace aircut::kinematics
