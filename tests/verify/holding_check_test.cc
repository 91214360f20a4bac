// Oracles: statics of a clamped block by hand: friction, lift, moments about an edge.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using support::Check;
using support::MadeRun;
using testing::HasSubstr;

// The made board, 100 x 100 x 20 mm with its face at z = 0, rests on its fixture. Two clamps
// of 500 N press down on it, friction 0.3; every cut pulls at (40..60, 40..58, -1).
MadeRun MakeClamped(const Vector3d& on_tool_n) {
  MadeRun made = support::MakeRun();
  made.job.cell.clamps.clear();
  for (const double x : {10.0, 90.0}) {
    sim::Clamp clamp;
    clamp.p_S = {x, 50, 0};
    clamp.direction_S = -Vector3d::UnitZ();
    clamp.force_n = 500;
    clamp.friction = 0.3;
    made.job.cell.clamps.push_back(clamp);
  }
  made.job.accept.holding_factor = {2.0, true};
  sim::CuttingLoad& load = made.run.load;
  load.force.emplace();
  load.of_sweep.assign(made.run.track.sweeps.size(), -1);
  sim::SweepLoad sweep;
  sweep.sweep = 3;
  for (int end = 0; end < sim::kBandEnds; ++end) {
    sweep.peak_S_n[static_cast<std::size_t>(end)] = sweep.mean_S_n[static_cast<std::size_t>(end)] =
        ((0.8 + 0.2 * end) * on_tool_n).cast<float>();
  }
  load.of_sweep[3] = 0;
  load.sweeps = {sweep};
  return made;
}

// 300 N of friction over 100 N across: 3 times, at the bad end 2.5.
TEST(HoldingCheckTest, ClampsThatHoldStayQuiet) {
  const CheckResult r = Check(MakeClamped({100, 0, 0}), CheckHolding);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_NEAR(*r.worst, 3.0, 1e-5);
  EXPECT_NEAR(*r.worst - *r.bound, 2.5, 1e-5);
}

TEST(HoldingCheckTest, SlipIsCaughtWithTheClampForceThatWouldDo) {
  const CheckResult r = Check(MakeClamped({200, 0, 0}), CheckHolding);   // 1.5; bad end 1.25, good end 1.875
  ASSERT_EQ(r.result, Result::kFail) << r.why;
  EXPECT_THAT(r.why, HasSubstr("slips"));
  EXPECT_THAT(r.findings[0].text, HasSubstr("clamps of 1600 N together, now 1000"));
}

// The tool is pushed down, the piece is pulled up by 400 N: 1000 N over that.
TEST(HoldingCheckTest, LiftIsCaught) {
  const CheckResult r = Check(MakeClamped({0, 0, -700}), CheckHolding);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.why, HasSubstr("before the piece"));
  EXPECT_LT(*r.worst, 1000.0 / 700 + 1e-5);
}

// Clamps near one edge and a pull far beyond them: it tips before it slips. About the edge
// x = 100 the clamps hold 1000 N x 5 mm; 60 N at 19 mm above the rest turn with 1140 N mm.
TEST(HoldingCheckTest, TipOverIsTheMomentAboutTheEdge) {
  MadeRun made = MakeClamped({-60, 0, 0});   // the piece is pulled along +x
  for (sim::Clamp& clamp : made.job.cell.clamps) clamp.p_S.x() = 98;
  const CheckResult r = Check(made, CheckHolding);
  EXPECT_NEAR(*r.worst, 1000.0 * 2 / (60 * 19), 1e-4);
  EXPECT_THAT(r.why, HasSubstr("tips over"));
}

TEST(HoldingCheckTest, BandAcrossTheLimitIsUnproven) {
  EXPECT_EQ(Check(MakeClamped({140, 0, 0}), CheckHolding).result, Result::kUnproven);   // 1.79 to 2.68
}

// Clamps of two ways: neither holds alone, both may together.
TEST(HoldingCheckTest, GroupsThatFailAloneAreUnproven) {
  MadeRun made = MakeClamped({300, 0, 0});
  made.job.cell.clamps[1].direction_S = Vector3d::UnitY();
  EXPECT_EQ(Check(made, CheckHolding).result, Result::kUnproven);
}

TEST(HoldingCheckTest, SilenceIsUnprovenWithTheKey) {
  MadeRun made = MakeClamped({1, 0, 0});
  made.job.cell.clamps.clear();
  const CheckResult r = Check(made, CheckHolding);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs, testing::Contains(HasSubstr("fixture.clamps")));
  MadeRun unloaded = MakeClamped({1, 0, 0});
  unloaded.run.load.force.reset();
  EXPECT_EQ(Check(unloaded, CheckHolding).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
