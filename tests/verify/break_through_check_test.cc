#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/checks.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

// The board is 20 mm thick, the field 1 mm deep: 19 mm stay.
TEST(BreakThroughTest, ThickBoardPassesByDefaultAndByStatedWall) {
  MadeRun made = MakeRun();
  CheckResult r = Check(made, CheckBreakThrough);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_NEAR(*r.worst, 19.0, 1e-12);
  EXPECT_NEAR(*r.limit, 3.0, 1e-12);   // three times the depth
  EXPECT_TRUE(r.assumed);
  made.job.accept.wall_mm = {19.0 - 0.01, true};
  r = Check(made, CheckBreakThrough);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_FALSE(r.assumed);
}

TEST(BreakThroughTest, ThinPlaceFailsThere) {
  MadeRun made = MakeRun();
  const int thin = support::MadeSampleAt(7, 3);
  made.run.depths[thin].bottom_mm = -2.5;   // 2.5 mm under a cut of 1 mm
  const CheckResult r = Check(made, CheckBreakThrough);
  EXPECT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_TRUE(r.findings[0].at_S->isApprox(made.run.samples[thin].ray.p_SQ));
  EXPECT_NEAR(r.findings[0].value, 2.5, 1e-12);
}

// A hole bored in from the side 1.5 mm under the field leaves only that much.
TEST(BreakThroughTest, HollowUnderTheCutCounts) {
  MadeRun made = MakeRun();
  made.run.depths[20].hollow = sim::RayHollow{-1.5, -2.0, 3};
  const CheckResult r = Check(made, CheckBreakThrough);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_NEAR(*r.worst, 1.5, 1e-12);
  made.run.depths[20].hollow = sim::RayHollow{-3.5, -4.0, 3};
  EXPECT_EQ(Check(made, CheckBreakThrough).result, Result::kPass);
}

TEST(BreakThroughTest, CutThroughFailsWhateverTheWall) {
  MadeRun made = MakeRun();
  made.job.accept.wall_mm = {0.1, true};
  made.run.depths[10].cut_through = true;
  const CheckResult r = Check(made, CheckBreakThrough);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.why, HasSubstr("cut through"));
}

// Oracle: the back of a one-sided scan is where the caliper says, not where the
// mesh was closed: 3.5 mm thick, 1 mm deep, 2.5 mm stay.
TEST(BreakThroughTest, StatedThicknessOfAOneSidedScanDecides) {
  MadeRun made = MakeRun();
  made.job.scan.said = sim::Declared::kGiven;
  made.job.scan.one_sided = true;
  CheckResult r = Check(made, CheckBreakThrough);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("stock.scan.thickness"));
  made.job.scan.thickness_mm = 3.5;
  r = Check(made, CheckBreakThrough);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_NEAR(*r.worst, 2.5, 1e-12);
  made.job.scan.thickness_mm = 4.1;
  EXPECT_EQ(Check(made, CheckBreakThrough).result, Result::kPass);
}

TEST(BreakThroughTest, WithinTheBoundOfTheLimitIsUnproven) {
  MadeRun made = MakeRun();
  made.job.accept.wall_mm = {19.0, true};
  EXPECT_EQ(Check(made, CheckBreakThrough).result, Result::kUnproven);
}

TEST(BreakThroughTest, NothingCutOrNotANumberIsUnproven) {
  MadeRun made = MakeRun();
  made.run.depths[5].top_mm = std::nan("");
  EXPECT_EQ(Check(made, CheckBreakThrough).result, Result::kUnproven);
  for (sim::RayDepth& d : made.run.depths) d.touched = false;
  EXPECT_EQ(Check(made, CheckBreakThrough).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
