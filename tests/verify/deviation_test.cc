#include "verify/deviation.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::MadeRun;
using support::MadeSampleAt;
using support::MakeRun;

constexpr double kRound_mm = 1e-12;

// Sets the depth error of a block of samples.
void SetBlock(MadeRun* made, int side, double error_mm) {
  for (int row = 10; row < 10 + side; ++row) {
    for (int column = 10; column < 10 + side; ++column) {
      made->run.depths[MadeSampleAt(column, row)].top_mm = error_mm;
    }
  }
}

// Oracle: by hand, 1,600 samples of 0.25 mm²; 400 of them 0.2 mm too high.
TEST(DeviationTest, StatisticsOfAHandMadeFieldHold) {
  MadeRun made = MakeRun();
  SetBlock(&made, 20, 0.2);
  const Deviation d = Measure(made.job, made.run);
  EXPECT_EQ(d.carve_samples, 1600);
  EXPECT_NEAR(d.carve_area_mm2, 400.0, kRound_mm * 1600);
  EXPECT_NEAR(d.mean_mm, 0.05, kRound_mm);
  EXPECT_NEAR(d.rms_mm, 0.1, kRound_mm);
  EXPECT_EQ(d.p95_mm, 0.2);
  EXPECT_NEAR(d.bound_of_p95_mm, sim::kRayBound_mm, kRound_mm);
  EXPECT_EQ(d.max_leftover_mm, 0.2);
  EXPECT_EQ(d.max_gouge_mm, 0.0);
  EXPECT_EQ(d.within_tolerance, 1.0);
  EXPECT_TRUE(d.gouges.empty());
  EXPECT_TRUE(d.leftovers.empty());
}

// Oracle: area weighting by definition. 10 samples of great area outweigh.
TEST(DeviationTest, MeanIsWeightedByArea) {
  MadeRun made = MakeRun();
  for (std::size_t i = 0; i < 10; ++i) {
    made.run.samples[i].area_mm2 = 40.0;   // 400 mm² of 797.5 mm²
    made.run.depths[i].top_mm = -0.1;
  }
  const Deviation d = Measure(made.job, made.run);
  EXPECT_NEAR(d.mean_mm, -0.1 * 400.0 / 797.5, kRound_mm);
  EXPECT_EQ(d.p95_mm, 0.1);
}

TEST(DeviationTest, RegionHoldsAreaDepthAndLines) {
  MadeRun made = MakeRun();
  SetBlock(&made, 4, -0.5);
  made.run.depths[MadeSampleAt(12, 12)].top_mm = -0.7;
  made.run.depths[MadeSampleAt(12, 12)].sweep = 6;
  const Deviation d = Measure(made.job, made.run);
  ASSERT_EQ(d.gouges.size(), 1u);
  const Region& g = d.gouges[0];
  EXPECT_NEAR(g.area_mm2, 4.0, kRound_mm * 16);
  EXPECT_NEAR(g.volume_mm3, 15 * 0.25 * 0.5 + 0.25 * 0.7, kRound_mm * 16);
  EXPECT_EQ(g.worst_mm, 0.7);
  EXPECT_EQ(g.worst_sample, MadeSampleAt(12, 12));
  EXPECT_EQ(g.first_line, made.run.track.sweeps[2].line);
  EXPECT_EQ(g.last_line, made.run.track.sweeps[6].line);
  EXPECT_EQ(g.kind, Region::Kind::kGouge);
}

TEST(DeviationTest, UntouchedLeftoverNamesTheLineItBelongsTo) {
  MadeRun made = MakeRun();
  SetBlock(&made, 4, 1.0);
  for (sim::RayDepth& d : made.run.depths) {
    if (d.top_mm == 1.0) {
      d.touched = false;
      d.sweep = -1;
    }
  }
  const Deviation d = Measure(made.job, made.run);
  ASSERT_EQ(d.leftovers.size(), 1u);
  EXPECT_EQ(d.leftovers[0].kind, Region::Kind::kLeftover);
  EXPECT_EQ(d.leftovers[0].first_line, made.job.path[1].line);
}

// Oracle: the limit region_mm2 (1 mm² = 4 samples), either side.
TEST(DeviationTest, PatchSmallerThanTheRegionLimitIsNoGouge) {
  MadeRun small = MakeRun();
  for (int column = 10; column < 13; ++column) {
    small.run.depths[MadeSampleAt(column, 10)].top_mm = -2.0;
  }
  EXPECT_TRUE(Measure(small.job, small.run).gouges.empty());
  EXPECT_EQ(Measure(small.job, small.run).max_gouge_mm, 2.0);
  small.run.depths[MadeSampleAt(13, 10)].top_mm = -2.0;
  EXPECT_EQ(Measure(small.job, small.run).gouges.size(), 1u);
}

TEST(DeviationTest, SpareSampleCountsOnlyWhereItWasCutBelow) {
  MadeRun made = MakeRun();
  SetBlock(&made, 10, 5.0);
  for (int row = 10; row < 20; ++row) {
    for (int column = 10; column < 20; ++column) {
      made.run.samples[MadeSampleAt(column, row)].role = sim::DesignSample::Role::kSpare;
    }
  }
  Deviation d = Measure(made.job, made.run);
  EXPECT_EQ(d.carve_samples, 1500);
  EXPECT_TRUE(d.leftovers.empty());
  EXPECT_EQ(d.max_leftover_mm, 0.0);
  SetBlock(&made, 10, -0.5);
  d = Measure(made.job, made.run);
  ASSERT_EQ(d.gouges.size(), 1u);
  EXPECT_EQ(d.p95_mm, 0.0);   // the face beside the carving has no depth of its own
  for (sim::RayDepth& depth : made.run.depths) {
    if (depth.top_mm < 0.0) depth.touched = false;   // a hollow that was there before
  }
  EXPECT_TRUE(Measure(made.job, made.run).gouges.empty());
}

TEST(DeviationTest, CutThroughCountsByAllThatIsGone) {
  MadeRun made = MakeRun();
  SetBlock(&made, 4, 0.0);
  for (int row = 10; row < 14; ++row) {
    for (int column = 10; column < 14; ++column) {
      sim::RayDepth& d = made.run.depths[MadeSampleAt(column, row)];
      d.cut_through = true;
      d.top_mm = std::numeric_limits<double>::quiet_NaN();
    }
  }
  const Deviation d = Measure(made.job, made.run);
  ASSERT_EQ(d.gouges.size(), 1u);
  EXPECT_EQ(d.gouges[0].worst_mm, 19.0);
}

// Oracle: the interval holds whatever the open samples would say: with 4 % of
// them the 95th percentile stays finite, with 6 % it may be anything.
TEST(DeviationTest, UnknownSamplesWidenTheIntervalBothWays) {
  for (const int unknown : {64, 96}) {
    MadeRun made = MakeRun();
    for (sim::RayDepth& d : made.run.depths) d.top_mm = 0.1;
    for (int i = 0; i < unknown; ++i) made.run.depths[i].has_material = false;
    const Deviation d = Measure(made.job, made.run);
    EXPECT_EQ(d.unknown_samples, unknown);
    EXPECT_EQ(d.p95_mm, 0.1);
    EXPECT_NEAR(d.p95.low, 0.1 - sim::kRayBound_mm, kRound_mm);
    EXPECT_EQ(std::isinf(d.p95.high), unknown == 96);
    EXPECT_TRUE(std::isnan(d.error_mm[0]));
    EXPECT_TRUE(std::isinf(d.bound_mm[0]));
    EXPECT_TRUE(std::isinf(d.gouge_depth.high));
  }
}

TEST(DeviationTest, NotANumberIsUnknown) {
  MadeRun made = MakeRun();
  made.run.depths[5].top_mm = std::numeric_limits<double>::quiet_NaN();
  const Deviation d = Measure(made.job, made.run);
  EXPECT_EQ(d.unknown_samples, 1);
  EXPECT_TRUE(std::isfinite(d.mean_mm));
}

// Oracle: the design's bound of the grid at creases, one voxel, either side.
TEST(DeviationTest, GridAndRaysBeyondOneVoxelAreDisputed) {
  MadeRun made = MakeRun();
  made.run.grid_gaps[0].gap_mm = static_cast<float>(support::kMadeVoxel_mm);
  made.run.grid_gaps[1].gap_mm = std::numeric_limits<float>::quiet_NaN();   // not compared
  EXPECT_EQ(Measure(made.job, made.run).disputed_share, 0.0);
  made.run.grid_gaps[0].gap_mm = static_cast<float>(-1.01 * support::kMadeVoxel_mm);
  const Deviation d = Measure(made.job, made.run);
  EXPECT_NEAR(d.disputed_share, 1.0 / 1600.0, kRound_mm);
  EXPECT_EQ(d.knowledge[0], Knowledge::kDisputed);
  EXPECT_TRUE(std::isinf(d.bound_mm[0]));
}

// Oracle: 96 of 1,600 samples, 6 %, below a face that was not scanned: more than the 5 %
// beyond the percentile, so that its upper end is open; 4 % are not.
TEST(DeviationTest, SamplesBelowUnscannedFacesAreNotKnown) {
  for (const std::size_t unseen : {96u, 64u}) {
    MadeRun made = MakeRun();
    made.run.unseen.assign(made.run.samples.size(), 0);
    std::fill_n(made.run.unseen.begin(), unseen, std::uint8_t{1});
    const Deviation d = Measure(made.job, made.run);
    EXPECT_NEAR(d.unseen_share, static_cast<double>(unseen) / 1600.0, kRound_mm);
    EXPECT_EQ(d.unknown_samples, 0);
    EXPECT_EQ(d.knowledge[0], Knowledge::kUnseen);
    EXPECT_TRUE(std::isnan(d.error_mm[0]));
    EXPECT_EQ(std::isinf(d.p95.high), unseen == 96u);
    EXPECT_NEAR(d.within.low, 1.0 - d.unseen_share, kRound_mm * 1600);
    EXPECT_NEAR(d.within.high, 1.0, kRound_mm * 1600);
  }
}

// Oracle: the ray bound of 0.001 mm either side of the limit of 0.3 mm, on a quarter of the field.
TEST(DeviationTest, ShareWithinTheLimitLeavesOpenWhatTheBoundDoes) {
  for (const double error_mm : {0.2985, 0.3005, 0.3015}) {
    MadeRun made = MakeRun();
    SetBlock(&made, 20, error_mm);
    const Deviation d = Measure(made.job, made.run);
    EXPECT_NEAR(d.within.low, error_mm < 0.299 ? 1.0 : 0.75, 1e-9) << error_mm;
    EXPECT_NEAR(d.within.high, error_mm > 0.301 ? 0.75 : 1.0, 1e-9) << error_mm;
  }
}

// Cut out from beneath: the face is right, what is gone below it is not.
TEST(DeviationTest, HollowUnderTheDesignIsCutTooDeep) {
  MadeRun made = MakeRun();
  made.run.depths[5].hollow = sim::RayHollow{-0.4, -0.9, 3};
  EXPECT_DOUBLE_EQ(Measure(made.job, made.run).error_mm[5], -0.9);
  made.run.depths[5].top_mm = 1.0;                                   // left standing above a hollow
  made.run.depths[5].hollow = sim::RayHollow{0.6, 0.2, 3};           // that ends above the design
  EXPECT_DOUBLE_EQ(Measure(made.job, made.run).error_mm[5], 1.0);
}

TEST(DeviationTest, NoSamplesGiveNoNumbers) {
  MadeRun made = MakeRun();
  made.run.samples.clear();
  made.run.depths.clear();
  made.run.grid_gaps.clear();
  const Deviation d = Measure(made.job, made.run);
  EXPECT_EQ(d.carve_samples, 0);
  EXPECT_TRUE(std::isnan(d.p95_mm));
  EXPECT_TRUE(std::isinf(d.bound_of_p95_mm));
  EXPECT_EQ(d.within_tolerance, 0.0);
}

TEST(DeviationTest, SizesThatDoNotAgreeAreRefused) {
  MadeRun made = MakeRun();
  made.run.depths.pop_back();
  EXPECT_THROW(Measure(made.job, made.run), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::verify
