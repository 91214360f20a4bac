#pragma once

#include "sim/cell.h"

namespace aircut::sim {

/// The cutter as it was measured: what really cuts. Ball and flat take the measured
/// diameter, their tip end where it is. Other outlines are cut as they are described:
/// the flanks of a V do not depend on it, and of the rest it does not tell how the
/// outline changed.
Cutter ActualCutter(const CellCutter& cutter);

}  // namespace aircut::sim
