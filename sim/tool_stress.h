#pragma once

#include <Eigen/Core>

#include "sim/cell.h"

namespace aircut::sim {

/// Largest stress in a cutter that stands out of its collet as a stepped cantilever.
struct ToolStress {
  double stress_mpa = 0;      ///< bending and pull or push together
  double at_mm = 0;           ///< height of the section above the tip end
  double diameter_mm = 0;     ///< that carries there
};

/// Share of the cutting diameter that a fluted section is worth in bending: domain notes
/// A27; 0.8 is common practice, no source.
inline constexpr double kFluteCore = 0.8;

/// @param force_n on the tool, split into the part across the axis and along it.
/// @param height_mm of the force above the tip end. @param stick_out_mm tip end to collet.
ToolStress StressOf(const CellCutter& cutter, const Eigen::Vector2d& force_n, double height_mm, double stick_out_mm);

}  // namespace aircut::sim
