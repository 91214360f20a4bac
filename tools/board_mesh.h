#pragma once

#include <functional>
#include <vector>

#include "sim/mesh.h"

namespace aircut::tools {

/// A board: a face and an underside over the same rectangle, each on its own
/// lattice of rising x and y places [mm] that share the outline.
struct BoardShape {
  std::vector<double> top_x, top_y, bottom_x, bottom_y;
  std::function<double(double, double)> top, bottom;   ///< z over (x, y) [mm]
};

/// @returns pieces + 1 places from -half to half, evenly spaced.
std::vector<double> EvenPlaces(double half_mm, int pieces);

/// @returns the closed mesh of the board, outside counter-clockwise. Each cell
/// of the face is split from its corner of lowest x and y to the opposite one.
sim::Mesh BoardMesh(const BoardShape& shape);

/// A flat board about the origin with its face at z = 0.
/// @param half_mm of its length and width; @param cells along each.
sim::Mesh FlatBoard(const Eigen::Vector2d& half_mm, const Eigen::Vector2i& cells, double thickness_mm);

}  // namespace aircut::tools
