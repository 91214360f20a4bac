#pragma once

#include "sim/stock.h"

namespace aircut::sim {

/// The part of the starting solid's surface that lies in no touched brick: it stands
/// as it is from the first sweep to the last. Triangles are cut at the faces of
/// bricks, so that the rest is what the bricks speak of.
Mesh StandingSurface(const Stock& stock);

/// @returns the brick whose cells hold a point of S, -1 where none was touched.
std::int32_t TouchedBrickAt(const Stock& stock, const Eigen::Vector3d& p_S);

}  // namespace aircut::sim
