#pragma once

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// Shorter travel of the tip counts as none [mm].
inline constexpr double kNoTravel_mm = 1e-6;
/// Smaller turn of the tool counts as none [rad].
inline constexpr double kNoTurn_rad = 1e-9;

/// Velocity of the tip and angular velocity of the tool, both in the foot frame A.
using Twist = Eigen::Matrix<double, 6, 1>;

/// The external axes over one move: from `e_from` to `e_to`, evenly and in step
/// with the tip. Both empty for an arm without external axes.
struct ExternalRun {
  const ArmModel* arm = nullptr;   ///< needed where there are external axes
  JointVector e_from = JointVector(0), e_to = JointVector(0);
};

/// One straight move: seen from S the tip runs on a line and the tool turns
/// evenly about one axis (slerp), both in step. Immutable. What is asked for is
/// what the six joints see from their foot A.
/// Its own parameter is the travel of the tip [mm]; where the tip rests and the
/// tool turns it is the turn [rad].
class StraightMove {
 public:
  /// @param X_BS workpiece in the base; @param X_FT tool in the flange, the
  /// same over the whole move; @param X_ST_from, X_ST_to its ends.
  /// @param external the external axes meanwhile.
  StraightMove(const Pose& X_BS, const Pose& X_FT, const Pose& X_ST_from, const Pose& X_ST_to,
               const ExternalRun& external = {});

  double travel_mm() const { return travel_mm_; }
  double turn_rad() const { return turn_rad_; }
  bool tip_travels() const { return travel_mm_ > kNoTravel_mm; }
  /// Neither travel nor turn: both ends are the same pose.
  bool is_rest() const { return !tip_travels() && turn_rad_ <= kNoTurn_rad; }
  /// Length in the move's own parameter, mm or rad.
  double length() const { return tip_travels() ? travel_mm_ : turn_rad_; }
  const Pose& X_FT() const { return X_FT_; }

  /// @param share of the move done, in [0, 1]. @returns X_ST.
  Pose ToolPose(double share) const;
  /// @returns X_AF at `share`.
  Pose FlangePose(double share) const;
  /// @returns the twist of T seen from A per unit of the move's own parameter at
  /// `share`; without external axes it is the same everywhere on the move.
  Twist TwistInFoot(double share) const;
  /// @returns the values of the external axes at `share`.
  JointVector External(double share) const;
  /// @returns their change per unit of the move's own parameter.
  JointVector ExternalRates() const;

 private:
  Pose WorkInFootAt(double share) const;

  ExternalRun external_;
  Pose X_BS_, X_FT_, X_TF_, X_ST_from_;
  Eigen::Vector3d step_S_;       // of the tip
  Eigen::Vector3d axis_S_;       // of the turn
  double travel_mm_, turn_rad_;
};

}  // namespace aircut::kinematics
