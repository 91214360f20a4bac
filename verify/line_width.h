#pragma once

#include <optional>

#include "verify/check.h"

namespace aircut::verify {

/// Width at the face of lines that a V cutter engraves.
struct LineWidths {
  double least_mm = 0.0, largest_mm = 0.0;   ///< as cut, along a chord across the line
  double expected_mm = 0.0;                  ///< of the cutter's outline at the depth asked for
  int places = 0;
};

/// Measured by exact rays across the line, to 0.001 mm (never too wide), at up to 200 places spread over a
/// design of one depth below the face. Places where another line cuts one of the edges, such
/// as corners and crossings, are left out.
/// @returns nothing for other designs, where another kind of cutter cuts, or without a place.
std::optional<LineWidths> MeasureLineWidths(const CheckInputs& in);

}  // namespace aircut::verify
