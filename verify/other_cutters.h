#pragma once

#include "verify/cause_modes.h"
#include "verify/deviation.h"

namespace aircut::verify {

/// The most cutters of the cell that are tried.
inline constexpr std::size_t kMostCutters = 8;

/// What each cutter of the cell that did not cut would leave at the places of a field, its tip
/// led as the one that did: by exact rays. Empty where the path cuts with several.
std::vector<OtherCutter> TryOtherCutters(const sim::Job& job, const sim::Run& run, const CauseField& field);

}  // namespace aircut::verify
