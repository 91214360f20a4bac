#pragma once

#include <vector>

#include "verify/check.h"

namespace aircut::verify {

/// Height of the ridge that two passes leave on a flat face, above their floors [mm].
/// Ball tip: R - sqrt(R^2 - a^2 / 4); else where the outline is a / 2 wide (V: by its angle).
/// @param apart_mm between the two passes, across the feed and along the face, >= 0.
/// @returns nothing where the passes do not overlap.
std::optional<double> RidgeHeight(const sim::Cutter& cutter, double apart_mm);

/// The ridge between two neighbouring passes, as one design sample shows it. Lengths
/// along the surface's normal.
struct Ridge {
  int sample = -1;               ///< the higher one of two neighbours, cut by different passes
  int sweep = -1, other_sweep = -1;
  double height_mm = 0.0;        ///< above the higher one of the floors on both sides
  double hidden_mm = 0.0;        ///< the true ridge is at most this much higher: between samples
  double step_mm = 0.0;          ///< between the floors on both sides, as the samples show them, >= 0
  double apart_mm = 0.0;         ///< stepover: the passes' distance across the feed, in space
  Eigen::Vector3d first_S, second_S, feed_S;   ///< tip ball's centres (else tip ends) of both, direction of travel
};

/// @returns the ridges of all carve samples that are known and lie beside another pass
/// of the same cutter, in order of the samples. Passes that cross are not neighbours.
std::vector<Ridge> FindRidges(const CheckInputs& in);

/// The same beside a pass of any cutter, of each sample the one with the largest step. Their
/// heights are of no use where the cutters differ.
std::vector<Ridge> FindSteps(const CheckInputs& in);

/// What stepover and cutter make of it: where both passes' cutters meet, above their
/// deeper reach into the design. On a target mesh and under a face of one depth the
/// surface's own curvature counts; else as on a flat face.
double PredictedHeight(const CheckInputs& in, const Ridge& ridge);

}  // namespace aircut::verify
