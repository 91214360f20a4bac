#include "verify/percentile.h"

#include <algorithm>
#include <limits>
#include <random>

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

// Oracle: by hand. Weights 1, 2, 3, 4 (sum 10): 0.1 -> first, 0.3 -> second,
// 0.31 -> third, 0.6 -> third, 0.95 -> fourth.
TEST(WeightedPercentileTest, HandMadeExampleHolds) {
  const std::vector<WeightedValue> values = {{40, 4}, {10, 1}, {30, 3}, {20, 2}};
  EXPECT_EQ(WeightedPercentile(values, 0.1), 10.0);
  EXPECT_EQ(WeightedPercentile(values, 0.3), 20.0);
  EXPECT_EQ(WeightedPercentile(values, 0.31), 30.0);
  EXPECT_EQ(WeightedPercentile(values, 0.6), 30.0);
  EXPECT_EQ(WeightedPercentile(values, 0.95), 40.0);
}

// Oracle: definition on equal weights, the 95th of 100 sorted values.
TEST(WeightedPercentileTest, EqualWeightsGiveTheRankedValue) {
  std::vector<WeightedValue> values;
  for (int i = 1; i <= 100; ++i) values.push_back({static_cast<double>(i), 0.1});
  std::mt19937_64 rng(11);
  std::shuffle(values.begin(), values.end(), rng);
  EXPECT_EQ(WeightedPercentile(values, 0.95), 95.0);
}

TEST(WeightedPercentileTest, NothingWithoutWeight) {
  EXPECT_FALSE(WeightedPercentile({}, 0.95).has_value());
  EXPECT_FALSE(WeightedPercentile({{1.0, 0.0}}, 0.95).has_value());
}

TEST(WeightedPercentileTest, InfiniteTailCountsOnlyPastItsShare) {
  const double inf = std::numeric_limits<double>::infinity();
  EXPECT_EQ(WeightedPercentile({{1.0, 96.0}, {inf, 4.0}}, 0.95), 1.0);
  EXPECT_EQ(WeightedPercentile({{1.0, 94.0}, {inf, 6.0}}, 0.95), inf);
}

}  // namespace
}  // namespace aircut::verify
