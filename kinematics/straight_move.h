#pragma once

#include "kinematics/frame.h"

namespace aircut::kinematics {

/// Shorter travel of the tip counts as none [mm].
inline constexpr double kNoTravel_mm = 1e-6;
/// Smaller turn of the tool counts as none [rad].
inline constexpr double kNoTurn_rad = 1e-9;

/// Velocity of the tip and angular velocity of the tool, both in B.
using Twist = Eigen::Matrix<double, 6, 1>;

/// One straight move: the tip runs on a line, the tool turns evenly about one
/// axis (slerp), both in step. Immutable.
/// Its own parameter is the travel of the tip [mm]; where the tip rests and the
/// tool turns it is the turn [rad].
class StraightMove {
 public:
  /// @param X_BS workpiece in the base; @param X_FT tool in the flange, the
  /// same over the whole move; @param X_ST_from, X_ST_to its ends.
  StraightMove(const Pose& X_BS, const Pose& X_FT, const Pose& X_ST_from, const Pose& X_ST_to);

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
  /// @returns X_BF at `share`.
  Pose FlangePose(double share) const;
  /// @returns the twist of T in B per unit of the move's own parameter; it is
  /// the same everywhere on the move.
  Twist TwistInBase() const;

 private:
  Pose X_BS_, X_FT_, X_TF_, X_ST_from_;
  Eigen::Vector3d step_S_;       // of the tip
  Eigen::Vector3d axis_S_;       // of the turn
  double travel_mm_, turn_rad_;
};

}  // namespace aircut::kinematics
