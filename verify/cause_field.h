#pragma once

#include "verify/cause_modes.h"
#include "verify/deviation.h"

namespace aircut::verify {

/// The most places of a field; of more samples so many are drawn, always the same.
inline constexpr std::size_t kMostPlaces = 20000;

/// The places of the carving where a cause can be read: samples that are carved and known,
/// on a smooth part of the surface (the slope over the depth is that of a plane through the
/// neighbours). Empty without such places.
CauseField FieldForCauses(const sim::Run& run, const Deviation& deviation);

}  // namespace aircut::verify
