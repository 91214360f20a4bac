#pragma once

#include <vector>

#include "sim/dry_run.h"

namespace aircut::verify {

/// Samples that are near each other belong to one patch. Depths here are
/// magnitudes: how far a sample lies beyond the design, > 0; samples with a
/// depth that is not > 0 take no part.
struct PatchField {
  const std::vector<sim::DesignSample>* samples = nullptr;
  std::vector<double> depth_mm;   ///< per sample; may be infinite
  double link_mm = 0.0;           ///< samples at most this far apart are neighbours
};

/// A connected set of samples.
struct Patch {
  std::vector<int> members;       ///< ascending
  double area_mm2 = 0.0;
  int deepest = -1;               ///< the member with the largest depth
};

/// @returns the patches of samples deeper than `limit_mm` whose area is at
/// least `area_mm2`, largest area first.
std::vector<Patch> PatchesBeyond(const PatchField& field, double limit_mm, double area_mm2);

/// A level of depth, and the sample at which the first patch is as large as asked.
struct Qualifying {
  double depth_mm = 0.0;          ///< 0: no patch is that large
  int sample = -1;
};

/// @returns the largest depth d such that the samples at least d deep hold a
/// patch of `area_mm2`. A patch beyond a limit exists exactly when this is larger
/// than the limit.
Qualifying QualifyingDepth(const PatchField& field, double area_mm2);

/// Link over spacing: the diagonal of a square grid still joins.
inline constexpr double kLink = 1.6;

/// @returns the link of a sampled surface, its spacing taken from the areas.
double LinkOf(const std::vector<sim::DesignSample>& samples);

}  // namespace aircut::verify
