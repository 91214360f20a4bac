#pragma once

#include "sim/cutting_load.h"
#include "sim/dry_run.h"

namespace aircut::sim {

/// Speed of the spindle on every sweep of the run's track, as the path orders it, and the
/// edges of its cutters. A way to or from the path counts as not turning.
SpindleRates SpindleRatesOf(const Job& job, const Run& run);

}  // namespace aircut::sim
