#pragma once

#include "sim/cell.h"

namespace aircut::sim {

/// The cutter as it was measured: what really cuts. A ball takes the measured
/// diameter, its tip end where it is; the flanks of a V do not depend on it.
Cutter ActualCutter(const CellCutter& cutter);

}  // namespace aircut::sim
