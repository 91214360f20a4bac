#pragma once

#include <vector>

#include "sim/convex_profile.h"
#include "sim/cutter_outline.h"

namespace aircut::sim {

/// Convex solids of revolution whose union is the cutter, lowest first. The outline
/// is split where it turns outwards; both sides of a split go on straight into the
/// cutter as far as it is at least that wide, so that the union has no skin inside.
/// Its distance inside may be too small in magnitude, never of the wrong sign.
/// Arcs that are hollow become chords of at most kHollowSag_mm sag, outside the
/// outline; all else is exact.
std::vector<ConvexProfile> SplitOutline(const CutterOutline& outline);

/// The part of a cutter above a height, cut off level; the outline must widen
/// upwards in one convex run.
ConvexProfile ProfileAbove(const CutterOutline& outline, double z_mm);

inline constexpr double kHollowSag_mm = 0.0005;

}  // namespace aircut::sim
