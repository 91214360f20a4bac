#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "sim/mesh.h"

namespace aircut::verify {

struct PictureRequest {
  const sim::Mesh* mesh_S = nullptr;
  const std::vector<float>* deviation_mm = nullptr;   ///< per vertex; NaN = not part of the design
  Eigen::Vector3d look_S = -Eigen::Vector3d::UnitZ(); ///< direction of view
  double tolerance_mm = 0.3;
  int width_px = 1100, height_px = 760;
  /// A part to frame in place of the whole; nothing: see ChooseView.
  struct Closeup {
    Eigen::Vector3d at_S;
    double across_mm = 0.0;            ///< seen from left to right, > 0
  };
  std::optional<Closeup> closeup;
};

/// Where the eye stands: a parallel projection of S onto the picture.
struct PieceView {
  Eigen::Vector3d right_S, up_S, look_S;   ///< unit, square to each other
  Eigen::Vector3d centre_S;                ///< seen at the middle of the picture
  double mm_per_px = 1.0;
  int width_px = 0, height_px = 0;
  /// @returns pixels right of and below the upper left corner.
  Eigen::Vector2d PixelOf(const Eigen::Vector3d& p_S) const;
};

using Colour = std::array<std::uint8_t, 3>;   ///< red, green, blue

/// One step of the depth-error scale; the outermost steps reach to infinity.
struct ColourStep {
  double from_mm = 0.0, to_mm = 0.0;
  Colour colour{};
};

/// Steps at 1, 2, 4 and 8 tolerances either side, from deepest cut to highest
/// left standing. Ochre and purple stay apart for the common kinds of colour
/// blindness; each grows darker with the error.
/// @throws std::invalid_argument unless tolerance_mm > 0 and finite.
std::vector<ColourStep> DeviationScale(double tolerance_mm);

/// Colour of a face square to the view; NaN has a grey of its own.
Colour DeviationColour(double error_mm, double tolerance_mm);

/// Frames the part that has depth errors (the whole piece if none has), with
/// +z of S upwards, or +y where the view is along z.
/// @throws std::invalid_argument as DrawPiece.
PieceView ChooseView(const PictureRequest& request);

/// Draws the piece without a display: parallel projection, light raking from
/// the upper left, depth error in steps (ochre = too deep, also hatched so that
/// a grey printer tells it; purple = left standing, paper = within tolerance).
/// Faces square to the view have the colours of DeviationScale. Four samples a
/// pixel; the same bytes for the same request. A mesh without triangles gives
/// an empty sheet. @returns a PNG.
/// @throws std::invalid_argument: no mesh, deviation of another length, a
/// direction of no length, a tolerance or size that is not positive.
std::vector<unsigned char> DrawPiece(const PictureRequest& request);

/// The same picture before it is packed: three bytes a pixel, rows from the top.
struct PiecePixels {
  PieceView view;
  std::vector<std::uint8_t> rgb;
};
PiecePixels PaintPiece(const PictureRequest& request);

}  // namespace aircut::verify
