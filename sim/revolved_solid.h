#pragma once

#include <vector>

#include "sim/cutter_outline.h"

namespace aircut::sim {

/// A line as a tool sees it, in long double: z = z0 + uz t, and the square of its distance
/// from the axis minus that of z: q2 t^2 + 2 q1 t + q0 = |y0 + u t|^2, t its parameter.
struct LineInTool {
  long double z0, uz, q0, q1, q2;
};

/// Part of a line, empty when lo > hi.
struct LinePiece {
  long double lo = 1.0L, hi = -1.0L;
  bool empty() const { return !(lo <= hi); }
};

/// A slab of a solid of revolution: z in [z0, z1] and the radius r0 + k (z - z0), or that
/// of a sphere about a place of the axis. Convex.
struct RevolvedSlab {
  long double z0, z1;
  long double r0 = 0.0L, k = 0.0L;         ///< cone
  bool sphere = false;
  long double centre = 0.0L, radius = 0.0L;
  long double most = 0.0L;                 ///< largest radius

  /// The part of a line inside, exact to rounding.
  LinePiece Inside(const LineInTool& line) const { return Grown(line, 0.0L); }
  /// A superset of the part of a line within `by` of the slab; equal to Inside for 0.
  LinePiece Grown(const LineInTool& line, long double by) const;
};

/// A cutter's outline, revolved, as slabs from the tip up. Lines and arcs about the axis
/// are exact; other arcs become chords, hollow ones tangents, which make the solid smaller
/// by at most `sag_mm`, nowhere larger.
std::vector<RevolvedSlab> SlabsOf(const CutterOutline& outline, double sag_mm);

/// Whether SlabsOf is the outline exactly.
bool IsExactInSlabs(const CutterOutline& outline);

}  // namespace aircut::sim
