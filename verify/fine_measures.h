#pragma once

#include "verify/check.h"

namespace aircut::verify {

/// What is told of the small things of design and cut. @param in with its deviation measured.
/// No result depends on the number of threads.
FineFeatures MeasureFineFeatures(const CheckInputs& in);

// Its parts.

/// The tightest hollow edge of the target mesh that lies deeper than its carving begins;
/// nothing without a mesh, or where every ball of kWidestHollow_mm rests.
std::optional<SmallestHollow> FindSmallestHollow(const CheckInputs& in);

/// Walls thinner than `accept.standing_wall_mm`, by exact rays sideways out of the cuts and by
/// rays into the design along its normal; nothing where the job does not ask.
std::optional<StandingWalls> FindStandingWalls(const CheckInputs& in);

/// Steps between passes side by side, of one cutter or two. Looked for at the samples; the
/// largest are measured by lines of rays across them.
PassSteps MeasurePassSteps(const CheckInputs& in);

}  // namespace aircut::verify
