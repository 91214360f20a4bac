#pragma once

#include <vector>

#include <Eigen/Core>

namespace aircut::sim {

enum class CutterShape { kBall, kV };

/// Balls strung along the tool axis: centres from z0 to z1 above the tip,
/// radius linear from r0 to r1; their union is a rounded cone (a capsule where
/// r0 = r1). A sweep of such a string is a family of balls with a closed form.
struct BallString {
  double z0_mm = 0, r0_mm = 0, z1_mm = 0, r1_mm = 0;
};

/// Cutting envelope of a rotating cutter, fixed in T: origin at the tip end,
/// +z up the spindle. Immutable; checked when made; lengths in mm.
class Cutter {
 public:
  /// @throws std::invalid_argument naming field, value and bound.
  static Cutter Ball(double diameter_mm, double flute_length_mm);
  /// @param angle_rad included angle, in (0, pi); tip_radius_mm in [0, diameter/2).
  static Cutter V(double angle_rad, double tip_radius_mm, double diameter_mm,
                  double flute_length_mm);

  CutterShape shape() const { return shape_; }
  double radius_mm() const { return radius_mm_; }
  double flute_length_mm() const { return flute_length_mm_; }
  /// The envelope as ball strings, lowest first.
  const std::vector<BallString>& strings() const { return strings_; }
  /// Height above the tip up to which strings() is the cutter exactly; a deeper
  /// bite is outside what the removal can show.
  double exact_height_mm() const { return exact_height_mm_; }
  /// Height of the ball centre (ball), or of the sharp apex below/above the
  /// tip (V: negative, the tip rounding is above the apex).
  double ball_centre_mm() const { return strings_.front().z0_mm; }
  double sharp_apex_mm() const { return sharp_apex_mm_; }

  /// Signed distance [mm] to the envelope; exact below exact_height_mm().
  double SignedDistance(const Eigen::Vector3d& p_TQ) const;

  /// Radius of the envelope [mm] at a height above the tip; 0 outside of it.
  double RadiusAt(double z_mm) const;

 private:
  CutterShape shape_ = CutterShape::kBall;
  double radius_mm_ = 0, flute_length_mm_ = 0, exact_height_mm_ = 0, sharp_apex_mm_ = 0;
  std::vector<BallString> strings_;
};

}  // namespace aircut::sim
