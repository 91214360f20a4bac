#pragma once

#include <memory>
#include <variant>

#include <Eigen/Core>

#include "sim/mesh.h"

namespace aircut::sim {

struct CapsuleShape { Eigen::Vector3d from, to; double radius_mm = 0; };
struct CylinderShape { Eigen::Vector3d from, to; double radius_mm = 0; };   ///< flat ends
struct BoxShape { Eigen::Vector3d min, max; };
struct HalfSpaceShape { double z_mm = 0; };                                 ///< solid below z
struct MeshShape { std::shared_ptr<const Mesh> mesh; };                     ///< surface of triangles
struct HullShape { std::shared_ptr<const Mesh> mesh; };                     ///< the convex hull of its vertices, solid

using Shape = std::variant<CapsuleShape, CylinderShape, BoxShape, HalfSpaceShape, MeshShape, HullShape>;

}  // namespace aircut::sim
