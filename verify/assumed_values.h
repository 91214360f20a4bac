#pragma once

#include <vector>

#include "sim/cell.h"
#include "verify/report.h"

namespace aircut::verify {

/// Process values that nobody stated and that this run took at the bad end of a
/// band: those of planning and those of the checks.
std::vector<sim::AssumedValue> AssumedValues(const ReportContext& context);

}  // namespace aircut::verify
