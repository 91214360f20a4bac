#pragma once

#include <vector>

#include "sim/dry_run.h"

namespace aircut::verify {

/// What one error layer costs, to first order: the displacement of the sweep that decides
/// each carved sample, along its depth direction. + leaves material standing.
struct LayerShare {
  sim::ErrorLayer layer = sim::ErrorLayer::kArm;
  double signed_mm_p95 = 0;    ///< of the sample whose magnitude is the 95th percentile by area
  double mean_mm = 0;          ///< by area
};

/// One entry a layer that acts, in their order; corner rounding, of the commanded motion, comes last.
std::vector<LayerShare> LayerSharesOf(const sim::Run& run);

/// Displacement of a sweep by some layers along a direction, over their bands [mm]. Where
/// layers pull apart, the bad end of one goes with the good end of the other: their bands
/// have nothing to do with each other.
struct ShiftAlong {
  double low = 0, nominal = 0, high = 0;     ///< signed

  double largest() const;    ///< magnitude that cannot be excluded
  double smallest() const;   ///< magnitude that is sure; 0 where the sign is open
};
ShiftAlong ShiftOf(const sim::Execution& execution, std::size_t sweep, const Eigen::Vector3d& up_S,
                   const std::vector<sim::ErrorLayer>& of);

/// How far the bands of all layers may move the depth of a sample beyond what was cut, one
/// per sample [mm]; empty for a run that displaced nothing.
std::vector<double> OpenDepths_mm(const sim::Run& run);

}  // namespace aircut::verify
