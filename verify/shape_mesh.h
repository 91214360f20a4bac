#pragma once

#include <vector>

#include "sim/mesh.h"
#include "sim/shape.h"

namespace aircut::verify {

/// Closed surface of a body for drawing, in the frame of the shape; round parts
/// have flats of at most 7.5 degrees whose corners lie on the true surface. A
/// half space has none: the mesh is empty.
sim::Mesh SurfaceOf(const sim::Shape& shape);

/// Closed surface of the solid that a profile (r from the z axis, z) makes when
/// it turns about z; ends that are not on the axis are closed by flats.
/// @param profile at least two points [mm].
sim::Mesh RevolvedSurface(const std::vector<Eigen::Vector2d>& profile);

}  // namespace aircut::verify
