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

/// @returns the closed mesh of the board, outside counter-clockwise. Each cell
/// of the face is split from its corner of lowest x and y to the opposite one.
sim::Mesh BoardMesh(const BoardShape& shape);

}  // namespace aircut::tools
