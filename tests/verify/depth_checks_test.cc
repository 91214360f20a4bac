#include <cmath>
#include <limits>

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

void SetAll(MadeRun* made, double error_mm) {
  for (sim::RayDepth& d : made->run.depths) d.top_mm = error_mm;
}

void RaisePiece(MadeRun* made, double rise_mm) {
  made->run.location.X_SA = kinematics::Pose(Eigen::Translation3d(0, 0, rise_mm));
  made->run.location.before_mm = std::abs(rise_mm);
}

// Each case: an error over the whole field, the result it must have.
struct Case {
  double error_mm;
  Result depth, gouge, leftover;
};

// Oracle: limits of 0.3 mm and the ray bound of 0.001 mm, by hand.
TEST(DepthChecksTest, ErrorsEitherSideOfTheLimitAreToldApart) {
  const Case cases[] = {
      {0.0, Result::kPass, Result::kPass, Result::kPass},
      {0.2985, Result::kPass, Result::kPass, Result::kPass},
      {-0.2985, Result::kPass, Result::kPass, Result::kPass},
      {0.3005, Result::kUnproven, Result::kPass, Result::kUnproven},
      {-0.3005, Result::kUnproven, Result::kUnproven, Result::kPass},
      {0.3015, Result::kFail, Result::kPass, Result::kFail},
      {-0.3015, Result::kFail, Result::kFail, Result::kPass},
  };
  for (const Case& c : cases) {
    MadeRun made = MakeRun();
    SetAll(&made, c.error_mm);
    EXPECT_EQ(Check(made, CheckDepth).result, c.depth) << c.error_mm;
    EXPECT_EQ(Check(made, CheckGouge).result, c.gouge) << c.error_mm;
    EXPECT_EQ(Check(made, CheckLeftover).result, c.leftover) << c.error_mm;
  }
}

// One sample of the third computation beyond its bound: nothing of the depth is proven, and
// the sample is named. None beyond: the check says how well they agree.
TEST(DepthChecksTest, ThirdComputationThatDiffersLeavesDepthUnproven) {
  MadeRun made = MakeRun();
  made.run.guard.samples = {3, 700};
  made.run.guard.worst_gap_mm = 0.0001;
  made.run.guard.worst_sample = 700;
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kPass);
  EXPECT_THAT(Check(made, CheckDepth).why, HasSubstr("agrees on 2 samples within 0.6 µm"));
  made.run.guard.worst_gap_mm = 0.004;
  made.run.guard.beyond = {700};
  for (const auto check : {CheckDepth, CheckGouge, CheckLeftover}) {
    const CheckResult r = Check(made, check);
    EXPECT_EQ(r.result, Result::kUnproven);
    EXPECT_THAT(r.why, HasSubstr("differs on 1 of 2 samples"));
    EXPECT_THAT(r.why, HasSubstr("sample 700, by 4 µm"));
    EXPECT_FALSE(r.needs.empty());
  }
  SetAll(&made, 1.0);   // what fails anyway still fails
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kFail);
}

TEST(DepthChecksTest, OrderOfTheGridIsPrinted) {
  MadeRun made = MakeRun();
  sim::Convergence c;
  c.voxel_mm = 0.25;
  c.coarse_rms_mm = 0.004;
  c.fine_rms_mm = 0.001;
  made.run.convergence = c;
  EXPECT_THAT(Check(made, CheckDepth).why, HasSubstr("the grid is 4 µm off with voxels of 0.25 mm and 1 µm with half of that, order 2.0."));
  made.run.convergence->coarse_rms_mm = made.run.convergence->fine_rms_mm = 1e-6;
  EXPECT_THAT(Check(made, CheckDepth).why, HasSubstr(": rounding."));
}

TEST(DepthChecksTest, GougeFindingNamesDepthPlaceAreaAndLines) {
  MadeRun made = MakeRun();
  for (int row = 5; row < 15; ++row) {
    for (int column = 5; column < 15; ++column) {
      made.run.depths[MadeSampleAt(column, row)].top_mm = -2.06;
    }
  }
  const CheckResult r = Check(made, CheckGouge);
  ASSERT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  const Finding& f = r.findings[0];
  EXPECT_THAT(f.text, HasSubstr("2.06 mm too deep"));
  EXPECT_THAT(f.text, HasSubstr("25 mm²"));
  EXPECT_THAT(f.text, HasSubstr("default limit 0.30 mm"));
  EXPECT_TRUE(r.assumed);
  EXPECT_EQ(f.value, 2.06);
  EXPECT_EQ(f.limit, 0.3);
  EXPECT_EQ(f.line, made.run.track.sweeps[2].line);
  ASSERT_TRUE(f.at_S.has_value());
  EXPECT_EQ(f.at_S->z(), -1.0);
  ASSERT_TRUE(f.time_s.has_value());
}

// Oracle: domain notes A22 and A17: 4 % of the area may lie beyond the limit
// in depth (95th percentile) and is still a gouge.
TEST(DepthChecksTest, SmallDeepPatchFailsGougeNotDepth) {
  MadeRun made = MakeRun();
  for (int row = 0; row < 8; ++row) {
    for (int column = 0; column < 8; ++column) {
      made.run.depths[MadeSampleAt(column, row)].top_mm = -1.0;
    }
  }
  EXPECT_EQ(Check(made, CheckGouge).result, Result::kFail);
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kPass);
}

TEST(DepthChecksTest, PatchUnderTheRegionLimitStaysQuiet) {
  MadeRun made = MakeRun();
  for (int column = 0; column < 3; ++column) {
    made.run.depths[MadeSampleAt(column, 0)].top_mm = -3.0;
    made.run.depths[MadeSampleAt(column + 20, 20)].top_mm = 3.0;
  }
  EXPECT_EQ(Check(made, CheckGouge).result, Result::kPass);
  EXPECT_EQ(Check(made, CheckLeftover).result, Result::kPass);
}

// Oracle: by hand. 100 samples of 0.25 mm² stand 0.8 mm high.
TEST(DepthChecksTest, WhatNoCutterReachesIsNoLeftover) {
  MadeRun made = MakeRun();
  made.run.unreachable_mm.assign(made.run.samples.size(), 0.0);
  for (int row = 0; row < 10; ++row) {
    for (int column = 0; column < 10; ++column) {
      made.run.depths[MadeSampleAt(column, row)].top_mm = 0.8;
      made.run.unreachable_mm[MadeSampleAt(column, row)] = 0.6;
    }
  }
  const CheckResult quiet = Check(made, CheckLeftover);
  EXPECT_EQ(quiet.result, Result::kPass);
  EXPECT_THAT(quiet.why, HasSubstr("no cutter of this path is small enough for it: 25 mm², 15 mm³, up to 0.60 mm at"));
  for (double& height_mm : made.run.unreachable_mm) height_mm *= 0.7;   // 0.38 mm could have been cut
  const CheckResult left = Check(made, CheckLeftover);
  ASSERT_EQ(left.result, Result::kFail);
  EXPECT_NEAR(*left.worst, 0.38, 1e-9);
  made.run.unreachable_mm.clear();
  EXPECT_EQ(Check(made, CheckLeftover).result, Result::kFail);
  EXPECT_THAT(Check(made, CheckLeftover).why, testing::Not(HasSubstr("Not counted")));
}

TEST(DepthChecksTest, UnknownPatchLeavesThemUnproven) {
  MadeRun made = MakeRun();
  for (int row = 0; row < 10; ++row) {
    for (int column = 0; column < 10; ++column) {
      made.run.depths[MadeSampleAt(column, row)].has_material = false;
    }
  }
  for (const auto check : {CheckDepth, CheckGouge, CheckLeftover}) {
    const CheckResult r = Check(made, check);
    EXPECT_EQ(r.result, Result::kUnproven);
    EXPECT_FALSE(r.needs.empty());
  }
}

// A fault that is sure stays one, however much is unknown elsewhere.
TEST(DepthChecksTest, UnknownSamplesDoNotHideASureFault) {
  MadeRun made = MakeRun();
  SetAll(&made, -2.0);
  for (int i = 0; i < 400; ++i) made.run.depths[i].has_material = false;
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kFail);
  EXPECT_EQ(Check(made, CheckGouge).result, Result::kFail);
}

TEST(DepthChecksTest, DisputedPatchIsUnproven) {
  MadeRun made = MakeRun();
  for (int i = 0; i < 100; ++i) made.run.grid_gaps[i].gap_mm = 0.6f;
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kUnproven);
  EXPECT_EQ(Check(made, CheckGouge).result, Result::kUnproven);
}

TEST(DepthChecksTest, NothingToCarveIsUnproven) {
  MadeRun made = MakeRun();
  made.run.samples.clear();
  made.run.depths.clear();
  made.run.grid_gaps.clear();
  for (const auto check : {CheckDepth, CheckGouge, CheckLeftover}) {
    EXPECT_EQ(Check(made, check).result, Result::kUnproven);
  }
}

TEST(DepthChecksTest, GoodDepthOfAPathThatWasNotFollowedIsUnproven) {
  MadeRun made = MakeRun();
  support::BreakMotion(&made, kinematics::PlanFaultKind::kOutOfReach);
  for (const auto check : {CheckDepth, CheckGouge, CheckLeftover}) {
    EXPECT_EQ(Check(made, check).result, Result::kUnproven);
  }
  SetAll(&made, -2.0);
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kFail);
}

// Oracle: geometry. A piece 2 mm higher than believed is cut 2 mm deeper.
TEST(DepthChecksTest, LowFrameIsNamedAsTheCause) {
  MadeRun made = MakeRun();
  SetAll(&made, -2.0);
  RaisePiece(&made, 2.0);
  for (const auto check : {CheckDepth, CheckGouge}) {
    const CheckResult r = Check(made, check);
    ASSERT_EQ(r.findings.size(), 1u);
    EXPECT_THAT(r.findings[0].cause, HasSubstr("2.00 mm below the touched piece"));
    EXPECT_THAT(r.findings[0].cause, HasSubstr("2.00 mm longer than typed"));
    EXPECT_THAT(r.findings[0].cause, HasSubstr("measure the stick-out of the bit with a setter"));
    EXPECT_THAT(r.findings[0].cause, HasSubstr("100 %"));
  }
}

TEST(DepthChecksTest, HighFrameIsNamedWithTheOtherSign) {
  MadeRun made = MakeRun();
  SetAll(&made, 1.0);
  RaisePiece(&made, -1.1);
  const CheckResult r = Check(made, CheckLeftover);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("1.10 mm above the touched piece"));
  EXPECT_THAT(r.findings[0].cause, HasSubstr("90 %"));
  EXPECT_THAT(r.findings[0].cause, HasSubstr("shorter than typed"));
}

TEST(DepthChecksTest, PieceThatDoesNotExplainTheErrorIsNotBlamed) {
  MadeRun made = MakeRun();
  SetAll(&made, -2.0);
  made.run.depths[0].top_mm = -2.5;
  RaisePiece(&made, 0.5);
  const CheckResult r = Check(made, CheckGouge);
  ASSERT_FALSE(r.findings.empty());
  EXPECT_THAT(r.findings[0].cause, testing::Not(HasSubstr("touched")));
  // Uniform all the same: the field has its cause.
  EXPECT_THAT(r.findings[0].cause, HasSubstr("too low, which explains"));
  EXPECT_THAT(r.findings[0].cause, HasSubstr("longer than typed"));
}

TEST(DepthChecksTest, CutThroughSaysSo) {
  MadeRun made = MakeRun();
  for (int i = 0; i < 200; ++i) made.run.depths[i].cut_through = true;
  const CheckResult r = Check(made, CheckGouge);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].text, HasSubstr("cut through"));
}

}  // namespace
}  // namespace aircut::verify
