#pragma once

#include <vector>

#include "sim/mesh.h"

namespace aircut::verify {

struct PictureRequest {
  const sim::Mesh* mesh_S = nullptr;
  const std::vector<float>* deviation_mm = nullptr;   ///< per vertex; NaN = not part of the design
  Eigen::Vector3d look_S = -Eigen::Vector3d::UnitZ(); ///< direction of view
  double tolerance_mm = 0.3;
  int width_px = 1100, height_px = 760;
};

/// Draws the piece without a display: parallel projection, soft shading, depth
/// error in steps (ochre = too deep, purple = left standing, paper = within
/// tolerance). @returns a PNG.
std::vector<unsigned char> DrawPiece(const PictureRequest& request);

}  // namespace aircut::verify
