#pragma once

namespace aircut::sim {

/// What says on which side of a surface a point lies.
enum class InsideBy {
  kNormals,         ///< pseudo-normals: right for closed, oriented meshes that nowhere enclose or cross themselves
  kWindingNumbers   ///< the generalised winding number wherever the surface is not of that kind
};

}  // namespace aircut::sim
