#pragma once

#include "sim/prepared_shape.h"

namespace aircut::sim {

/// Least value of n . x over all points x of a shape [mm], in the shape's frame:
/// never above the truth, at most 1e-6 mm below. @param n unit.
/// -infinity for a half space.
double LowestAlong(const PreparedShape& shape, const Eigen::Vector3d& n);

/// Largest value of n . x over all points [mm]: never below the truth. Infinite for
/// a half space except straight up.
double HighestAlong(const PreparedShape& shape, const Eigen::Vector3d& n);

}  // namespace aircut::sim
