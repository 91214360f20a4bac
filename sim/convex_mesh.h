#pragma once

#include "sim/mesh.h"

namespace aircut::sim {

/// @returns whether a closed mesh is its own convex hull: no vertex lies more than
/// 1e-6 mm beyond the plane of a face. False for a mesh of more than 4,000 faces,
/// which is not looked at.
bool IsConvex(const Mesh& mesh);

}  // namespace aircut::sim
