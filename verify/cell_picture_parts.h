#pragma once

#include "sim/cell.h"
#include "verify/drawing_sheet.h"

namespace aircut::verify {

/// Draws what hangs on the flange, upright, with the lengths that add up from
/// flange to tip: at the upper end of `frame` [px], as large as it holds.
/// @returns the lower end of the drawing on the sheet [px].
double DrawToolStack(const sim::Cell& cell, const sim::CellCutter& cutter, const Eigen::AlignedBox2d& frame,
                     DrawingSheet& sheet);

/// Draws cutter, shank and holder with their lengths and diameters, likewise.
double DrawCutterInHolder(const sim::Cell& cell, const sim::CellCutter& cutter, const Eigen::AlignedBox2d& frame,
                          DrawingSheet& sheet);

/// @returns the cutters in the order of their numbers.
std::vector<const sim::CellCutter*> CuttersOf(const sim::Cell& cell);

}  // namespace aircut::verify
