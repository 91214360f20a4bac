#pragma once

#include <vector>

#include "sim/cell.h"

namespace aircut::verify {

/// Draws a cell on one sheet without a display: elevation over plan at home and
/// with the first cutter on the workpiece zero where that is reached, and the
/// tool stack from flange to tip with its lengths. World W, base B, flange F,
/// tool T and workpiece S are drawn as small axes (x, y, z; a dot points out of
/// the sheet, a cross into it); nose H stands on the tool stack. One scale for
/// all views of the cell, with a bar; greys and hatching only. The frame of the
/// views holds arm, tool, fixture and, as far as they are near, the obstacles.
/// The same bytes for the same cell. @returns a PNG.
std::vector<unsigned char> DrawCell(const sim::Cell& cell);

}  // namespace aircut::verify
