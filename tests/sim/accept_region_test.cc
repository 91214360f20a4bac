#include "sim/accept_region.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/dry_run.h"
#include "sim/input_error.h"
#include "sim/region_limits.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using test::TempFolder;
using test::TinyJob;
using testing::HasSubstr;

AcceptLimits Load(const std::string& regions) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "accept: {depth_mm: 0.2,", "accept: {regions: " + regions + ", depth_mm: 0.2,");
  return LoadJob(tiny.WriteTo(folder), {}).accept;
}

TEST(AcceptRegionTest, BoxAndOutlineAreRead) {
  const AcceptLimits accept = Load("[{name: star, within: {box: {min: [0, 1, 2], max: [3, 4, 5]}}, depth_mm: 0.1}, "
                                   "{name: rim, within: {outline: [[0, 0], [10, 0], [0, 10]]}, gouge_mm: 0.5, leftover_mm: 0.6}]");
  ASSERT_EQ(accept.regions.size(), 2u);
  EXPECT_EQ(accept.regions[0].name, "star");
  EXPECT_TRUE(accept.regions[0].Holds({3, 4, 5}));
  EXPECT_FALSE(accept.regions[0].Holds({3.01, 4, 5}));
  EXPECT_FALSE(accept.regions[0].Holds({2, 2, 1.9}));
  EXPECT_EQ(accept.regions[0].depth_mm, 0.1);
  EXPECT_FALSE(accept.regions[0].gouge_mm.has_value());
  EXPECT_TRUE(accept.regions[1].Holds({2, 2, -400}));
  EXPECT_FALSE(accept.regions[1].Holds({6, 6, 0}));     // beyond the slanted side
  EXPECT_FALSE(accept.regions[1].Holds({-1, 2, 0}));
  EXPECT_EQ(accept.regions[1].leftover_mm, 0.6);
}

// Oracle: by hand, a U whose hollow is outside.
TEST(AcceptRegionTest, HollowOutlineLeavesItsHollowOut) {
  const AcceptLimits accept = Load("[{name: u, within: {outline: [[0, 0], [30, 0], [30, 30], [20, 30], [20, 10], [10, 10], "
                                   "[10, 30], [0, 30]]}, depth_mm: 0.1}]");
  EXPECT_TRUE(accept.regions[0].Holds({5, 25, 0}));
  EXPECT_TRUE(accept.regions[0].Holds({25, 25, 0}));
  EXPECT_TRUE(accept.regions[0].Holds({15, 5, 0}));
  EXPECT_FALSE(accept.regions[0].Holds({15, 20, 0}));
}

TEST(AcceptRegionTest, TighterOfTwoRegionsHoldsAndARegionMayBeWiderThanTheJob) {
  const AcceptLimits accept = Load("[{name: a, within: {box: {min: [0, 0, 0], max: [10, 10, 10]}}, depth_mm: 0.5}, "
                                   "{name: b, within: {box: {min: [5, 0, 0], max: [15, 10, 10]}}, depth_mm: 0.4, gouge_mm: 0.1}]");
  const auto at = [&](Tolerance which, double x) { return LimitAt(accept, which, {x, 5, 5}); };
  EXPECT_EQ(at(Tolerance::kDepth, 2).value_mm, 0.5);
  EXPECT_EQ(at(Tolerance::kDepth, 2).region, 0);
  EXPECT_EQ(at(Tolerance::kDepth, 7).value_mm, 0.4);
  EXPECT_EQ(at(Tolerance::kDepth, 7).region, 1);
  EXPECT_EQ(at(Tolerance::kDepth, 20).value_mm, 0.2);
  EXPECT_EQ(at(Tolerance::kDepth, 20).region, -1);
  EXPECT_EQ(at(Tolerance::kGouge, 2).region, -1);       // a states none
  EXPECT_EQ(at(Tolerance::kGouge, 7).value_mm, 0.1);
  EXPECT_EQ(at(Tolerance::kLeftover, 7).region, -1);
}

// The groove's design is sampled from y = 15 to 25; nothing of it lies at y > 35.
TEST(AcceptRegionTest, RegionWithoutAPlaceOfTheDesignIsRefused) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "accept: {depth_mm: 0.2,",
              "accept: {regions: [{name: far, within: {box: {min: [0, 35, 0], max: [60, 40, 20]}}, depth_mm: 0.1}], depth_mm: 0.2,");
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  EXPECT_THAT([&] { Execute(job, {}); },
              testing::ThrowsMessage<InputError>(HasSubstr("accept.regions: region far holds no place of the design")));
}

}  // namespace
}  // namespace aircut::sim
