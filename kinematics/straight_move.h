#pragma once

#include "kinematics/tool_curve.h"

namespace aircut::kinematics {

/// Shorter travel of the tip counts as none [mm].
inline constexpr double kNoTravel_mm = 1e-6;
/// Smaller turn of the tool counts as none [rad].
inline constexpr double kNoTurn_rad = 1e-9;

/// The external axes over one move: from `e_from` to `e_to`, evenly and in step
/// with the tip. Both empty for an arm without external axes.
struct ExternalRun {
  const ArmModel* arm = nullptr;   ///< needed where there are external axes
  JointVector e_from = JointVector(0), e_to = JointVector(0);
};

/// One straight move: seen from S the tip runs on a line and the tool turns
/// evenly about one axis (slerp), both in step. Immutable. Its own parameter is
/// the travel of the tip [mm]; where the tip rests and the tool turns it is the
/// turn [rad].
class StraightMove : public ToolCurve {
 public:
  /// @param X_BS workpiece in the base with all external axes at model value 0;
  /// @param X_FT tool in the flange, the same over the whole move;
  /// @param X_ST_from, X_ST_to its ends; @param external the external axes meanwhile.
  StraightMove(const Pose& X_BS, const Pose& X_FT, const Pose& X_ST_from, const Pose& X_ST_to,
               const ExternalRun& external = {});

  double travel_mm() const override { return travel_mm_; }
  double turn_rad() const override { return turn_rad_; }
  bool tip_travels() const { return travel_mm_ > kNoTravel_mm; }
  /// Neither travel nor turn: both ends are the same pose.
  bool is_rest() const { return !tip_travels() && turn_rad_ <= kNoTurn_rad; }
  double length() const override { return tip_travels() ? travel_mm_ : turn_rad_; }
  const Pose& X_FT() const override { return X_FT_; }
  const Pose& X_BS() const { return X_BS_; }
  const ExternalRun& external() const { return external_; }
  /// Travel of the tip over the whole move, in S [mm].
  const Eigen::Vector3d& step_S() const { return step_S_; }

  /// @param share of the move done, in [0, 1]. @returns X_ST.
  Pose ToolPose(double share) const;
  Pose FlangePose(double share) const override;
  /// Without external axes the same everywhere on the move.
  Twist TwistInFoot(double share) const override;
  JointVector External(double share) const override;
  JointVector ExternalRates(double share) const override;
  double TipSpeed(double share) const override;
  double Curvature() const override { return 0.0; }

 private:
  Pose WorkInFootAt(double share) const;

  ExternalRun external_;
  Pose X_BS_, X_FT_, X_TF_, X_ST_from_;
  Eigen::Vector3d step_S_;       // of the tip
  Eigen::Vector3d axis_S_;       // of the turn
  double travel_mm_, turn_rad_;
};

}  // namespace aircut::kinematics
