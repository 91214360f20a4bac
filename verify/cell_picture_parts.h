#pragma once

#include "sim/cell.h"
#include "verify/drawing_sheet.h"

namespace aircut::verify {

/// Draws what hangs on the flange, upright, with the lengths that add up from
/// flange to tip, into `frame` [px] of the sheet.
void DrawToolStack(const sim::Cell& cell, const sim::CellCutter& cutter, const Eigen::AlignedBox2d& frame,
                   DrawingSheet& sheet);

/// @returns the cutter to draw: the one of the lowest number; null where there is none.
const sim::CellCutter* FirstCutter(const sim::Cell& cell);

}  // namespace aircut::verify
