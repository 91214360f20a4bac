#pragma once

#include <optional>
#include <vector>

namespace aircut::verify {

struct WeightedValue {
  double value = 0.0;    ///< may be infinite, not NaN
  double weight = 0.0;   ///< >= 0
};

/// Smallest value v such that the values <= v hold at least `share` of the
/// weight (inverse of the weighted empirical distribution, lower side).
/// @param share in (0, 1]. @returns nothing when there is no weight.
std::optional<double> WeightedPercentile(std::vector<WeightedValue> values, double share);

}  // namespace aircut::verify
