// Limits that differ by region, in the checks of depth, gouge and leftover.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using support::MadeSampleAt;
using support::MakeRun;
using testing::HasSubstr;

sim::AcceptRegion Box(const char* name, double x0, double x1) {
  sim::AcceptRegion region;
  region.name = name;
  region.box_S = {Eigen::Vector3d(x0, 0, -10), Eigen::Vector3d(x1, 100, 10)};
  return region;
}

// The field is 40 columns of 0.5 mm from x = 40 on; the first ten are the region.
MadeRun WithStar() {
  MadeRun made = MakeRun();
  made.job.accept.regions = {Box("star", 39, 44.75)};
  return made;
}

void Raise(MadeRun* made, int from, int to, double height_mm) {
  for (int row = 0; row < support::kMadeSide; ++row) {
    for (int column = from; column < to; ++column) made->run.depths[MadeSampleAt(column, row)].top_mm = height_mm;
  }
}

// Oracle: by hand. 0.2 mm is inside 0.3 mm everywhere and beyond 0.1 mm in the star.
TEST(RegionLimitsTest, TighterLimitOfARegionIsHeldThereAlone) {
  MadeRun made = WithStar();
  made.job.accept.regions[0].depth_mm = 0.1;
  made.job.accept.regions[0].leftover_mm = 0.1;
  Raise(&made, 10, 40, 0.2);
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kPass);
  EXPECT_EQ(Check(made, CheckLeftover).result, Result::kPass);
  Raise(&made, 0, 10, 0.2);
  const CheckResult depth = Check(made, CheckDepth);
  ASSERT_EQ(depth.result, Result::kFail);
  EXPECT_NEAR(*depth.worst, 0.2, 1e-12);
  EXPECT_NEAR(*depth.limit, 0.1, 1e-12);
  EXPECT_THAT(depth.why, HasSubstr("95 % of region star lies within 0.20 mm of the design (limit 0.10 mm in region star)"));
  EXPECT_THAT(depth.why, HasSubstr("95 % of the rest of the carving lies within 0.20 mm"));
  EXPECT_FALSE(depth.assumed);
  const CheckResult left = Check(made, CheckLeftover);
  ASSERT_EQ(left.result, Result::kFail);
  EXPECT_NEAR(*left.worst, 0.2, 1e-12);
  EXPECT_NEAR(*left.limit, 0.1, 1e-12);
  ASSERT_EQ(left.findings.size(), 1u);
  EXPECT_THAT(left.findings[0].text, HasSubstr("over 100 mm², 20 mm³"));   // 10 x 40 samples of 0.25 mm²
  EXPECT_THAT(left.findings[0].text, HasSubstr("(limit 0.10 mm in region star)"));
  EXPECT_EQ(Check(made, CheckGouge).result, Result::kPass);
}

TEST(RegionLimitsTest, WiderLimitOfARegionLetsThroughThereAlone) {
  MadeRun made = WithStar();
  made.job.accept.regions[0].gouge_mm = 1.0;
  Raise(&made, 0, 10, -0.8);
  const CheckResult quiet = Check(made, CheckGouge);
  EXPECT_EQ(quiet.result, Result::kPass);
  EXPECT_NEAR(*quiet.worst, 0.8, 1e-12);
  EXPECT_NEAR(*quiet.limit, 1.0, 1e-12);
  EXPECT_THAT(quiet.why, HasSubstr("(limit 1.00 mm in region star)"));
  Raise(&made, 20, 30, -0.8);
  const CheckResult fails = Check(made, CheckGouge);
  ASSERT_EQ(fails.result, Result::kFail);
  EXPECT_NEAR(*fails.limit, 0.3, 1e-12);
  ASSERT_EQ(fails.findings.size(), 1u);
  EXPECT_GT(fails.findings[0].at_S->x(), 44.75);
}

// A patch of which either part alone is too small to count.
TEST(RegionLimitsTest, PatchAcrossTheBorderCountsWhole) {
  MadeRun made = WithStar();
  made.job.accept.regions[0].gouge_mm = 0.2;
  made.job.accept.region_mm2.value = 2.0;
  for (const int column : {8, 9, 10, 11}) {   // two columns in, two out; two rows: 1 mm² each side
    for (const int row : {5, 6}) made.run.depths[MadeSampleAt(column, row)].top_mm = column < 10 ? -0.25 : -0.35;
  }
  const CheckResult r = Check(made, CheckGouge);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].text, HasSubstr("over 2"));
  for (const int row : {5, 6}) made.run.depths[MadeSampleAt(11, row)].top_mm = -0.29;
  EXPECT_EQ(Check(made, CheckGouge).result, Result::kPass);
}

TEST(RegionLimitsTest, OfTwoRegionsTheTighterLimitHolds) {
  MadeRun made = WithStar();
  made.job.accept.regions = {Box("wide", 39, 50), Box("narrow", 39, 44.75)};
  made.job.accept.regions[0].leftover_mm = 0.5;
  made.job.accept.regions[1].leftover_mm = 0.2;
  Raise(&made, 0, 10, 0.25);
  EXPECT_THAT(Check(made, CheckLeftover).why, HasSubstr("in region narrow"));
  std::swap(made.job.accept.regions[0], made.job.accept.regions[1]);
  EXPECT_EQ(Check(made, CheckLeftover).result, Result::kFail);
  Raise(&made, 0, 10, 0.19);
  Raise(&made, 10, 20, 0.45);   // x up to 49.5: in the wide one alone
  EXPECT_EQ(Check(made, CheckLeftover).result, Result::kPass);
}

TEST(RegionLimitsTest, ShareWithinToleranceGoesByTheLimitOfThePlace) {
  MadeRun made = WithStar();
  made.job.accept.regions[0].depth_mm = 0.1;
  Raise(&made, 0, 20, 0.2);   // half of the field, half of which is the star
  const Deviation d = Measure(made.job, made.run);
  EXPECT_NEAR(d.within_tolerance, 0.75, 1e-12);
  ASSERT_EQ(d.by_limit.size(), 2u);
  EXPECT_EQ(d.by_limit[0].limit.region, -1);
  EXPECT_NEAR(d.by_limit[0].within.value, 1.0, 1e-12);
  EXPECT_EQ(d.by_limit[1].places, 400);
  EXPECT_NEAR(d.by_limit[1].area_mm2, 100.0, 1e-9);
  EXPECT_NEAR(d.by_limit[1].within.value, 0.0, 1e-12);
  EXPECT_NEAR(d.by_limit[1].max_leftover_mm, 0.2, 1e-12);
}

TEST(RegionLimitsTest, UnknownPlacesOfARegionLeaveItUnproven) {
  MadeRun made = WithStar();
  made.job.accept.regions[0].depth_mm = 0.1;
  for (int row = 0; row < 10; ++row) made.run.depths[MadeSampleAt(2, row)].has_material = false;   // 2.5 % of the star
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kPass);
  for (int row = 0; row < 25; ++row) made.run.depths[MadeSampleAt(3, row)].has_material = false;   // 8.75 %
  const CheckResult r = Check(made, CheckDepth);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_NEAR(*r.limit, 0.1, 1e-12);
}

}  // namespace
}  // namespace aircut::verify
