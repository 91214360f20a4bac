#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/cell.h"
#include "sim/job.h"

namespace aircut::sim {

/// A straight slot of full width and the mean force that the cutter put on the piece.
struct SlotRow {
  int line = 0;                       ///< in its table
  double depth_mm = 0, feed_mm_s = 0, rpm = 0;
  double ahead_n = 0;                 ///< along the feed
  double left_n = 0;                  ///< to the left of the feed as seen from the spindle
  std::optional<double> up_n;         ///< along the axis, to the spindle
};

/// Reads columns `depth_mm`, `feed_mm_min`, `spindle_rpm`, `fx_n`, `fy_n` and, if there,
/// `fz_n`. @param flutes_mm height of the flutes. @throws InputError.
std::vector<SlotRow> ReadSlotTable(const std::filesystem::path& file, double flutes_mm);

struct SlotFit {
  EdgeTriple cutting_n_mm2, edge_n_mm;   ///< axial only where the table has fz_n
  double band = 0;                       ///< 0.2, or twice the residual over the force if that is more
  double residual_n = 0, force_n = 0;    ///< root mean square per component of force
  int rows = 0;
};

/// Coefficients by linear least squares: mean forces are linear in them (Altintas,
/// Manufacturing Automation, identification from mean forces in slots; from memory).
/// @param label how messages name the table. @throws InputError for fewer than three rows,
/// rows that do not tell chip from edge, or a fit that has the cutter pushed by the piece.
SlotFit FitSlotTest(const std::string& label, const std::vector<SlotRow>& rows, const CellCutter& cutter);

}  // namespace aircut::sim
