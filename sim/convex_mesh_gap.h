#pragma once

#include "sim/prepared_shape.h"

namespace aircut::sim {

/// Gap between a convex solid and the triangles of a mesh, both in the mesh's frame: a
/// walk through the mesh's tree, nearest boxes first. What planes found so far and
/// boxes do not tell apart, the method of Gilbert, Johnson and Keerthi does.
/// As GapOf; `stop_above_mm`, `axis` and `depth` of the query count.
ConvexGap GapToMesh(const ConvexCore& a, const TriangleSearch& mesh, const ShapeQuery& query);

/// A mesh that overlaps something: so many overlapping pairs of its triangles are
/// looked at for the depth, which is an estimate anyway.
inline constexpr int kMostOverlaps = 32;

/// That two hulls meet, as far as DepthTest::kNo asks.
ConvexGap MeetingOf(const ConvexCore& a, const ConvexCore& b);

}  // namespace aircut::sim
