#pragma once

#include <vector>

#include "verify/verdict.h"

namespace aircut::verify {

/// What a run of these inputs cannot see, computed from what is missing in
/// them and from what this version does not compute; each with the shop-floor
/// test that would show it. What matters most comes first.
std::vector<BlindSpot> BlindSpotsOf(const sim::Job& job, const std::vector<CheckResult>& checks);

}  // namespace aircut::verify
