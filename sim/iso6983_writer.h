#pragma once

#include <map>
#include <ostream>
#include <string>
#include <vector>

#include "sim/path_source.h"

namespace aircut::sim {

/// How a path is put into words.
struct IsoWriterOptions {
  enum class Axis {
    kUpright,   ///< no words: every axis must be +z
    kVector,    ///< I J K; to be read with an empty rotary order
    kTurns,     ///< C and A; to be read with the order "CA", turning the tool
    kWhole      ///< C, B and A of R_ST; to be read with the order "CBA", turning the tool
  } axis = Axis::kUpright;
  std::map<int, double> length_offsets_mm;   ///< H numbers for rows that carry an offset
};

/// Writes a path as a program of the ISO 6983 family in mm, absolute, straight
/// moves only; read back under the same options it gives the same rows: points,
/// feeds a minute and vector axes to the last bit or two, turned axes and whole
/// orientations within 1e-12.
/// Numbers have as many digits as it takes to read the same double, never an
/// exponent. Cuts with a written time are written under G93.
/// @param events  in file order, `before` indexing `rows`; tool lengths and cutter
/// shapes have no word and are left out.
/// @throws std::invalid_argument if a row has a rotation (under kWhole: has none),
/// an axis that the words cannot say, or a length offset that has no H number; if
/// turning words move while the point rests in a cut without a written time.
void WriteIso6983(const std::vector<PoseRow>& rows, const std::vector<PathEvent>& events,
                  const IsoWriterOptions& options, std::ostream& out);

}  // namespace aircut::sim
