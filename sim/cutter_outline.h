#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

namespace aircut::sim {

/// A line or an arc of an outline in the (r, z) half plane, r from the tool axis,
/// z up from the tip end [mm].
struct OutlinePiece {
  Eigen::Vector2d from = Eigen::Vector2d::Zero();
  Eigen::Vector2d to = Eigen::Vector2d::Zero();
  bool arc = false;
  Eigen::Vector2d centre = Eigen::Vector2d::Zero();   ///< of an arc
  bool clockwise = false;                             ///< seen with r to the right, z up
};

/// Revolved outline of a cutter from the axis at the tip end to the top of the
/// flutes; z never falls, r >= 0, no two pieces meet but at their shared ends.
struct CutterOutline {
  std::string shape;                    ///< ball, flat, bull_nose, v, tapered_ball, seven_parameters, outline
  std::vector<OutlinePiece> pieces;
  double diameter_mm = 0.0;             ///< twice the largest r
  double height_mm = 0.0;               ///< of the last point
};

}  // namespace aircut::sim
