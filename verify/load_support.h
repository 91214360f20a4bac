#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/spindle_rates.h"
#include "verify/checks.h"

namespace aircut::verify {

// Private to verify: what the checks of the cutting load share.

/// @returns why nothing can be said of the load, or nothing where it can: no cut, no
/// turning cutter, cuts beyond the model.
std::optional<CheckResult> NoLoad(const CheckInputs& in);

/// @returns why nothing can be said of forces, as NoLoad, or for want of coefficients.
std::optional<CheckResult> NoForces(const CheckInputs& in);

/// The cell's cutter of a load, null if it has none of its number.
const sim::CellCutter* CutterOf(const CheckInputs& in, const sim::SweepLoad& load);

/// A finding at the line, time and place of a load; text, values and cause are the caller's.
Finding FindingAt(const CheckInputs& in, const sim::SweepLoad& load);

/// A quantity over the band of the coefficients against a limit that may be a band too.
struct BandedValue {
  double least = 0, nominal = 0, most = 0;
  double limit_low = 0, limit_high = 0;
};
/// Passes at the bad ends, fails only where the good ends fail too.
Result DecideBand(const BandedValue& value);
/// worst is the nominal value, bound how far above it the bad end is.
CheckResult MeasuredBand(const BandedValue& value, const std::string& unit);

/// What would settle a force: the coefficients' band is too wide.
std::string NarrowerForces(const CheckInputs& in);

/// A change of feed or depth, by its factor.
using ChangeBy = sim::CutChange (*)(double factor);
sim::CutChange FeedBy(double factor);
sim::CutChange DepthBy(double factor);

/// The largest factor below 1, rounded down to a percent, with which every one of the
/// sweeps holds. @param sweeps worst first. @returns nothing where none of 5 % or more does.
std::optional<double> LargestFactor(const CheckInputs& in, const std::vector<std::size_t>& sweeps, ChangeBy change,
                                    const std::function<bool(const sim::SweepLoad&)>& holds);

}  // namespace aircut::verify
