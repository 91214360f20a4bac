#pragma once

#include "sim/region_limits.h"
#include "verify/check.h"

namespace aircut::verify {

// Private to verify: what the checks of depth, gouge, leftover and scallop share.

/// @returns the path line that made the surface at a sample, else the one it belongs to; 0 = none.
int LineAtSample(const CheckInputs& in, int sample);

/// @returns "at (..) mm on the workpiece, lines a to b"; `f.at_S` is given.
std::string WhereText(const Finding& f);

/// @returns a finding with place, line, time and probable cause of a sample, in mm.
Finding FindingAt(const CheckInputs& in, int sample);

/// @returns the printed origin of a place's limit: as LimitText, or " (limit 0.10 mm in region star)".
std::string PlaceLimitText(const CheckInputs& in, sim::Tolerance which, const sim::PlaceLimit& limit);

/// Grid and rays stand or fall together with their sweeps. Where a computation that does
/// not share them says otherwise, on any sample, no depth is proven.
CheckResult Guarded(CheckResult result, const CheckInputs& in);

}  // namespace aircut::verify
