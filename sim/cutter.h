#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/convex_profile.h"
#include "sim/cutter_outline.h"

namespace aircut::sim {

/// Balls strung along the tool axis: centres from z0 to z1 above the tip,
/// radius linear from r0 to r1; their union is a rounded cone (a capsule where
/// r0 = r1). A sweep of such a string is a family of balls with a closed form.
struct BallString {
  double z0_mm = 0, r0_mm = 0, z1_mm = 0, r1_mm = 0;
};

/// Cutting envelope of a rotating cutter, fixed in T: origin at the tip end,
/// +z up the spindle. The union of strings() and profiles() is the revolved
/// outline exactly, but for hollow arcs (sim/outline_split.h). Immutable; checked
/// when made; lengths in mm.
class Cutter {
 public:
  /// @throws std::invalid_argument naming field, value and bound.
  static Cutter Ball(double diameter_mm, double flute_length_mm);
  /// Cone with a rounded or sharp tip.
  /// @param angle_rad included angle, in (0, pi); tip_radius_mm in [0, diameter/2).
  static Cutter V(double angle_rad, double tip_radius_mm, double diameter_mm,
                  double flute_length_mm);
  /// Any outline as sim/outline_shapes.h makes it.
  static Cutter Of(CutterOutline outline);

  const CutterOutline& outline() const { return outline_; }
  double radius_mm() const { return 0.5 * outline_.diameter_mm; }
  double flute_length_mm() const { return outline_.height_mm; }
  /// Round tips and the cones above them, whose sweeps are the fastest; may be empty.
  const std::vector<BallString>& strings() const { return strings_; }
  /// What strings() leave of the cutter, or all of it, lowest first.
  const std::vector<ConvexProfile>& profiles() const { return profiles_; }
  /// Least radius of the outline's outward curves, 0 where it has a sharp tip or
  /// corner. Where a cone goes over into the cylinder above it does not count.
  double nose_radius_mm() const { return nose_radius_mm_; }
  /// Nothing of it is narrower than what lies below.
  bool widens_upwards() const { return widens_upwards_; }

  /// Signed distance [mm] to the envelope: exact outside, never of the wrong sign.
  double SignedDistance(const Eigen::Vector3d& p_TQ) const;

  /// Radius of the envelope [mm] at a height above the tip; 0 outside of it.
  double RadiusAt(double z_mm) const;

 private:
  CutterOutline outline_;
  std::vector<BallString> strings_;
  std::vector<ConvexProfile> profiles_;
  double nose_radius_mm_ = 0;
  bool widens_upwards_ = true;
};

}  // namespace aircut::sim
