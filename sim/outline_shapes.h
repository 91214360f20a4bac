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
