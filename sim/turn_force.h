#pragma once

#include <Eigen/Core>

#include "sim/edge_sums.h"
#include "sim/force_coefficients.h"

namespace aircut::sim {

/// Edges of a cutter as they share the turn.
struct Teeth {
  int count = 1;
  bool right_handed = true;
};

/// How much of the engaged heights and arc is really in material.
struct EngagedShare {
  double chip = 1.0;      ///< of the chips' area
  double edge = 1.0;      ///< of the edges' length
};

/// Force on the tool over one turn, in the frame of EdgeEngagement [N], and its torque
/// about the axis against the spindle [N mm].
struct TurnForce {
  Eigen::Vector3d mean_n = Eigen::Vector3d::Zero();
  Eigen::Vector3d peak_n = Eigen::Vector3d::Zero();   ///< at the angle where its length is largest
  double mean_torque_nmm = 0, peak_torque_nmm = 0;
};

/// Force of straight, evenly spaced teeth that run true: a helix spreads the bite and lowers
/// the peak, run-out raises it for one tooth. The turn is looked at in kArcSectors steps.
TurnForce ForceOverTurn(const EdgeSums& edges, const ForceCoefficients& force, const Teeth& teeth,
                        const EngagedShare& share = {});

/// A cut that is known without a track: straight ahead or, with `climb_rad`, along a slope.
struct PlainCut {
  double feed_mm_s = 0, rpm = 0;                    ///< both > 0
  double depth_mm = 0;                              ///< from the tip end up
  double from_rad = -1.5707963267948966;            ///< engaged arc, from the way ahead
  double to_rad = 1.5707963267948966;               ///< a slot goes from -90 to 90 degrees
  double climb_rad = 0;                             ///< -90 degrees is a plunge
};
struct PlainLoad {
  TurnForce force;
  double feed_per_tooth_mm = 0, chip_most_mm = 0, chip_mean_mm = 0;
  double removed_mm3_s = 0, power_w = 0;
};
/// @throws std::invalid_argument unless feed >= 0, rpm > 0, depth > 0 and the arc is not empty.
PlainLoad LoadOf(const CutterOutline& outline, const Teeth& teeth, const PlainCut& cut,
                 const ForceCoefficients& force);

}  // namespace aircut::sim
