#pragma once

#include <vector>

#include "sim/dry_run.h"

namespace aircut::sim {

/// How far above the design's surface, along a ray, a ball still reaches without entering
/// the design: the morphological closing of the design by the ball, as the ray sees it [mm].
/// Found by descent from several places: never less than the closing, in narrow floors and
/// corners within 1 % of the radius above it (tests). Entering by 0.01 mm counts as touching,
/// so that the facets of a corner that is just round enough do not matter.
/// @param most_mm what is higher does not matter, > 0. @returns from 0 to most_mm.
double HeightOutOfReach(const MeshIndex& design_S, double radius_mm, const DepthRay& ray, double most_mm);

/// The same for every sample of a target mesh that stands above the leftover limit, by
/// the smallest tip or corner radius of the cutters that cut: whatever such a cutter takes
/// away lies in a ball of that radius, so that no way of leading it reaches deeper. Less
/// what the descent may read too high (kDescent_radii), so that it excuses no leftover that
/// could be cut. Shank, flank and axis are not looked at. 0 for all others, and for what goes beyond
/// kMostOutOfReach samples. Empty where there is no target mesh or a cutter is sharp.
/// @param threads >= 1; the result does not depend on it.
std::vector<double> HeightsOutOfReach(const Job& job, const Run& run, int threads);

/// The least tip or corner radius of the cutters that cut; 0 where one is sharp or none cuts.
double LeastNoseRadius_mm(const ToolTrack& track);

inline constexpr int kMostOutOfReach = 20000;
inline constexpr double kDescent_radii = 0.01;

}  // namespace aircut::sim
