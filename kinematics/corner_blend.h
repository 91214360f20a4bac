#pragma once

#include <optional>

#include "kinematics/straight_move.h"

namespace aircut::kinematics {

/// How a controller rounds the corner between two straight moves: the tip leaves
/// the first one `reach_mm` before the corner on an arc that touches both, and
/// joins the second one as far behind it. The orientation goes by the quadratic
/// spherical curve through that of the corner, external axes likewise; speed and
/// turn go over into both moves without a step. A model: what a corner distance
/// means differs from control to control.
/// Own parameter: 2 * reach_mm over the whole blend; the tip is never faster than it.
/// Source of the arc's deviation: domain knowledge, reach * tan(turn / 4)
/// (common practice, no source).
class CornerBlend : public ToolCurve {
 public:
  /// @returns nothing where a corner cannot be rounded: a move whose tip rests,
  /// a reach that is too small to matter, a turn back by more than 150 degrees,
  /// or another tool pose in the flange.
  /// @param reach_mm > 0, at most the travel of either move.
  static std::optional<CornerBlend> Between(const StraightMove& before, const StraightMove& after,
                                            double reach_mm);

  double length() const override { return 2.0 * reach_mm_; }
  double travel_mm() const override { return arc_mm_; }
  double turn_rad() const override { return turn_rad_; }
  const Pose& X_FT() const override { return X_FT_; }
  Pose FlangePose(double share) const override;
  Twist TwistInFoot(double share) const override;
  JointVector External(double share) const override;
  JointVector ExternalRates(double share) const override;
  double TipSpeed(double share) const override;
  double Curvature() const override { return 1.0 / radius_mm(); }

  /// @returns X_ST at `share`.
  Pose ToolPose(double share) const;
  double reach_mm() const { return reach_mm_; }
  /// Angle between the directions of the two moves [rad].
  double corner_rad() const { return corner_rad_; }
  /// Smallest distance of the way from the corner [mm].
  double deviation_mm() const;
  /// Turn of the tool away from the corner's orientation, in the middle [rad].
  double tilt_rad() const;
  /// Radius of the arc [mm]; infinite where the way goes straight on.
  double radius_mm() const;

 private:
  CornerBlend() = default;
  Pose WorkInFootAt(double share) const;
  /// Angle of the arc done, and its change per unit of the share.
  double ArcAngle(double share) const;
  double ArcRate(double share) const;

  Pose X_BS_, X_FT_, X_TF_;
  ExternalRun external_;                  // of the move before, its arm
  Eigen::Vector3d p_from_S_, along_S_, inwards_S_;
  Eigen::Quaterniond R_from_, R_corner_, R_to_;
  JointVector e_from_, e_corner_, e_to_;
  double reach_mm_ = 0, corner_rad_ = 0, arc_mm_ = 0, turn_rad_ = 0, stretch_ = 1;
};

}  // namespace aircut::kinematics
