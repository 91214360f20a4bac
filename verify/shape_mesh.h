#pragma once

#include "sim/mesh.h"
#include "sim/shape.h"

namespace aircut::verify {

/// Closed surface of a body for drawing, in the frame of the shape; round parts
/// have flats of at most 7.5 degrees whose corners lie on the true surface. A
/// half space has none: the mesh is empty.
sim::Mesh SurfaceOf(const sim::Shape& shape);

}  // namespace aircut::verify
