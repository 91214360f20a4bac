#include "verify/finding.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kInf = std::numeric_limits<double>::infinity();

struct Row {
  double worst, bound, limit;
  Result at_most, at_least;
};

// Oracle: the rule of the design, section 1, worked by hand for each row.
TEST(DecideTest, TableOfTheRuleHolds) {
  const Row rows[] = {
      {0.25, 0.125, 0.5, Result::kPass, Result::kFail},
      {0.375, 0.125, 0.5, Result::kPass, Result::kUnproven},      // worst + bound = limit
      {0.4375, 0.125, 0.5, Result::kUnproven, Result::kUnproven},
      {0.5, 0.0, 0.5, Result::kPass, Result::kPass},              // exactly at the limit
      {0.625, 0.125, 0.5, Result::kUnproven, Result::kPass},      // worst - bound = limit
      {0.75, 0.125, 0.5, Result::kFail, Result::kPass},
      {-2.0, 0.0, 0.0, Result::kPass, Result::kFail},
  };
  for (const Row& r : rows) {
    EXPECT_EQ(Decide(r.worst, r.bound, r.limit, Sense::kAtMost), r.at_most) << r.worst;
    EXPECT_EQ(Decide(r.worst, r.bound, r.limit, Sense::kAtLeast), r.at_least) << r.worst;
  }
}

// Oracle: the design, section 1: a value that is not a number never passes.
TEST(DecideTest, ValuesThatAreNotFiniteNeverPass) {
  for (const double bad : {kNaN, kInf, -kInf}) {
    for (const Sense sense : {Sense::kAtMost, Sense::kAtLeast}) {
      EXPECT_NE(Decide(bad, 0.0, 1.0, sense), Result::kPass) << bad;
      EXPECT_NE(Decide(0.5, bad, 1.0, sense), Result::kPass) << bad;
      EXPECT_NE(Decide(0.5, 0.0, bad, sense), Result::kPass) << bad;
    }
  }
}

TEST(DecideTest, NotANumberIsUnprovenAndEndlessDemandFails) {
  EXPECT_EQ(Decide(kNaN, 0.0, 1.0, Sense::kAtMost), Result::kUnproven);
  EXPECT_EQ(Decide(0.5, kInf, 1.0, Sense::kAtMost), Result::kUnproven);
  EXPECT_EQ(Decide(kInf, 0.0, 1.0, Sense::kAtMost), Result::kFail);
  EXPECT_EQ(Decide(-kInf, 0.0, 1.0, Sense::kAtLeast), Result::kFail);
}

TEST(DecideTest, NegativeBoundProvesNothing) {
  EXPECT_EQ(Decide(0.1, -1e-9, 1.0, Sense::kAtMost), Result::kUnproven);
}

// Oracle: the words of the report schema.
TEST(WordForTest, EachResultHasItsWord) {
  EXPECT_STREQ(WordFor(Result::kPass), "pass");
  EXPECT_STREQ(WordFor(Result::kUnproven), "unproven");
  EXPECT_STREQ(WordFor(Result::kFail), "fail");
}

}  // namespace
}  // namespace aircut::verify
