#pragma once

#include <vector>

#include "verify/cell_scene.h"
#include "verify/drawing_sheet.h"

namespace aircut::verify {

/// A parallel projection onto a part of a sheet; positions in the frame of the
/// bodies it shows.
struct SheetView {
  Eigen::Vector3d right, up, look;         ///< unit, square to each other; look goes into the sheet
  Eigen::Vector3d centre;                  ///< seen at the middle of `frame`
  double mm_per_px = 1.0;
  Eigen::AlignedBox2d frame;               ///< on the sheet [px]
  Eigen::Vector2d PixelOf(const Eigen::Vector3d& p) const;
};

/// @returns the view along `look` with `up` upwards; both unit and square.
SheetView ViewAlong(const Eigen::Vector3d& look, const Eigen::Vector3d& up);

/// Draws bodies with hidden parts hidden, in greys that a printer keeps: round
/// parts shaded, edges and outlines in ink, fixtures hatched; obstacles only
/// hatch what stands behind them, so that nothing is lost. Four samples a pixel.
void DrawBodies(const std::vector<DrawnBody>& bodies, const SheetView& view, DrawingSheet& sheet);

/// Grey of a kind of body, as drawn square to the light.
Colour ToneOf(const DrawnBody& body);

}  // namespace aircut::verify
