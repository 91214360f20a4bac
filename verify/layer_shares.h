#pragma once

#include <array>
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

/// One entry a layer that acts, in their order; empty for a run that displaced nothing.
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

/// The layers that bend under the cutting force, in the order of the chain.
inline constexpr std::array<sim::ErrorLayer, 4> kSprings = {sim::ErrorLayer::kArm, sim::ErrorLayer::kSpindle,
                                                            sim::ErrorLayer::kTool, sim::ErrorLayer::kFixture};

/// How far the springs may bend, as `deflection` judges it: per sweep the largest magnitude
/// that cannot be excluded along the depth direction of the carved samples whose depth it
/// decides [mm]; 0 where it decides none or cuts nothing, empty where no force is known.
std::vector<double> DeflectionOfSweeps_mm(const sim::Run& run);

/// How far the bands of all layers may move the depth of a sample beyond what was cut, one
/// per sample [mm]; empty for a run that displaced nothing.
std::vector<double> OpenDepths_mm(const sim::Run& run);

}  // namespace aircut::verify
