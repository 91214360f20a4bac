#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/cutter_outline.h"

namespace aircut::sim {

/// What the outline of a named shape is drawn from; lengths in mm.
struct OutlineDimensions {
  double diameter_mm = 0;        ///< of the body, > 0
  double height_mm = 0;          ///< of the flutes, at least up to the full diameter
};

/// Outlines of the named shapes, from the tip end up, arcs as arcs.
/// @throws std::invalid_argument naming field, value and bound.
CutterOutline BallOutline(const OutlineDimensions& d);
CutterOutline FlatOutline(const OutlineDimensions& d);
/// @param corner_radius_mm in (0, diameter / 2).
CutterOutline BullNoseOutline(const OutlineDimensions& d, double corner_radius_mm);
/// Cone with a rounded tip. @param angle_rad between the two edges, in (0, pi);
/// @param tip_radius_mm in [0, diameter / 2). Its shape is named `v`.
CutterOutline RoundTipConeOutline(const OutlineDimensions& d, double angle_rad, double tip_radius_mm);
/// Cone with a flat tip. @param tip_flat_mm diameter of the flat, in (0, diameter).
CutterOutline FlatTipConeOutline(const OutlineDimensions& d, double angle_rad, double tip_flat_mm);

/// The cutter of seven parameters of cutter-location programs (ISO 4343 family), as
/// `CUTTER/d,r,e,f,alpha,beta,h` gives them. Its bottom is a line from the tip end
/// that rises by alpha, its side leans out from the axis by beta, and both touch the
/// corner's circle of radius r about (e, f).
struct SevenParameters {
  double d_mm = 0;         ///< twice the r at which bottom and side would meet
  double r_mm = 0;         ///< 0 = sharp corner
  double e_mm = 0, f_mm = 0;
  double alpha_rad = 0;    ///< in [0, pi/2)
  double beta_rad = 0;     ///< in (-pi/2, pi/2), alpha + beta < pi/2
  double h_mm = 0;         ///< height of the flutes
};
/// @throws std::invalid_argument naming the parameter and its bound, also where
/// (e, f) is off the place that the other five give by more than kArcRadius_mm.
CutterOutline SevenParameterOutline(const SevenParameters& p);

/// An outline as listed: each point is joined to the one before, the first to the
/// tip end at (0, 0), by a line or by the shorter arc about `centre`.
struct OutlineStep {
  Eigen::Vector2d to = Eigen::Vector2d::Zero();
  std::optional<Eigen::Vector2d> centre;
};
/// @throws std::invalid_argument that begins with the number of the step at fault,
/// from 1: r < 0, z falls, a piece of no length, radii of an arc that differ by
/// more than kArcRadius_mm, half a turn or more, a line that runs back over itself.
CutterOutline ListedOutline(const std::vector<OutlineStep>& steps);

/// Largest difference between the radii at the two ends of an arc [mm].
inline constexpr double kArcRadius_mm = 0.001;

}  // namespace aircut::sim
