#include "verify/percentile.h"

#include <algorithm>

namespace aircut::verify {

std::optional<double> WeightedPercentile(std::vector<WeightedValue> values, double share) {
  std::sort(values.begin(), values.end(), [](const WeightedValue& a, const WeightedValue& b) {
    return a.value != b.value ? a.value < b.value : a.weight < b.weight;
  });
  double total = 0.0;
  for (const WeightedValue& v : values) total += v.weight;
  if (!(total > 0.0)) return std::nullopt;
  double sum = 0.0;
  for (const WeightedValue& v : values) {
    sum += v.weight;
    // Rounding of the running sum must not push a tie to the next value.
    if (v.weight > 0.0 && sum >= share * total * (1.0 - 1e-12)) return v.value;
  }
  return values.back().value;
}

}  // namespace aircut::verify
