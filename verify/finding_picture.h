#pragma once

#include <optional>
#include <string>
#include <vector>

#include "verify/picture.h"

namespace aircut::verify {

/// A place on the carved piece to draw: where, how large, and what stands beside it.
struct PlacePicture {
  const sim::Mesh* mesh_S = nullptr;
  const std::vector<float>* deviation_mm = nullptr;   ///< per vertex, as PictureRequest
  Eigen::Vector3d look_S = -Eigen::Vector3d::UnitZ();
  double tolerance_mm = 0.3;
  std::optional<Eigen::Vector3d> at_S;   ///< the place, ringed; nothing: the whole piece without a ring
  std::string label;                     ///< beside the ring, such as the finding's number
  double across_mm = 60.0;               ///< seen from left to right around a place
  int width_px = 360, height_px = 240;
};

/// How much is seen around a finding of a piece that is itself seen `whole_mm` across.
double CloseUpAcross_mm(double whole_mm);

/// Draws the piece around a place with a ring, a scale bar and the axes of S. Rays, no
/// display; the same bytes for the same request. @returns a PNG.
/// @throws std::invalid_argument as DrawPiece.
std::vector<unsigned char> DrawPlace(const PlacePicture& request);

}  // namespace aircut::verify
