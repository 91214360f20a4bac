// Oracles: springs by hand. Each check has a case that it must catch and one just inside.

#include <algorithm>
#include <cstdio>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/layer_shares.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using support::Check;
using support::MadeRun;
using testing::HasSubstr;

// Every cut of the made run pushes the tool up with a force; layers give by stated
// compliances along z. Bands: force 80 to 120 %, no band of stiffness.
constexpr double kForce_n = 10.0;

void AddLayer(MadeRun* made, sim::ErrorLayer layer, double mm_n) {
  sim::LayerShift shift{layer, {}};
  const Eigen::Vector3f d(0, 0, static_cast<float>(kForce_n * mm_n));
  shift.of_sweep.assign(made->run.track.sweeps.size(), {0.8F * d, d, 1.2F * d});
  made->run.execution.layers.push_back(shift);
  made->run.execution.cuts = 2;
}

MadeRun MakeLoaded() {
  MadeRun made = support::MakeRun();
  made.job.accept.deflection_mm = {0.15, true};
  made.run.execution = {};
  sim::CuttingLoad& load = made.run.load;
  load = {};
  load.force.emplace();
  load.of_sweep.assign(made.run.track.sweeps.size(), -1);
  for (std::size_t s = 0; s < made.run.track.sweeps.size(); ++s) {
    if (made.run.track.sweeps[s].rapid) continue;
    sim::SweepLoad sweep;
    sweep.sweep = static_cast<std::int32_t>(s);
    sweep.depth_mm = 1.0F;
    for (int end = 0; end < sim::kBandEnds; ++end) {
      const auto share = static_cast<float>(kForce_n * (0.8 + 0.2 * end));
      sweep.mean_S_n[static_cast<std::size_t>(end)] = sweep.peak_S_n[static_cast<std::size_t>(end)] = {0, 0, share};
    }
    load.of_sweep[s] = static_cast<std::int32_t>(load.sweeps.size());
    load.sweeps.push_back(sweep);
  }
  return made;
}

// 10 N on 2,000 N/mm and 500 N/mm: 0.005 + 0.02 mm, at the bad end 0.030.
TEST(DeflectionCheckTest, StiffCellStaysQuiet) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kFixture, 1.0 / 2000);
  AddLayer(&made, sim::ErrorLayer::kArm, 1.0 / 500);
  const CheckResult r = Check(made, CheckDeflection);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_NEAR(*r.worst, 0.025, 1e-6);
  EXPECT_NEAR(*r.worst + *r.bound, 0.030, 1e-6);
  EXPECT_TRUE(r.findings.empty());
}

// Oracle: the check: what is drawn over the job never stands above what was judged.
TEST(DeflectionCheckTest, DrawnDeflectionPeaksAtTheJudgedOne) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kFixture, 1.0 / 2000);
  AddLayer(&made, sim::ErrorLayer::kArm, 1.0 / 500);
  AddLayer(&made, sim::ErrorLayer::kLostMotion, 0.5);   // no spring
  const CheckResult r = Check(made, CheckDeflection);
  const std::vector<double> bent_mm = DeflectionOfSweeps_mm(made.run);
  ASSERT_EQ(bent_mm.size(), made.run.track.sweeps.size());
  EXPECT_NEAR(*std::max_element(bent_mm.begin(), bent_mm.end()), *r.worst + *r.bound, 1e-9);
  made.run.load.force.reset();
  EXPECT_TRUE(DeflectionOfSweeps_mm(made.run).empty());
}

// 10 N on 5 N/mm: 2 mm. Room for the fixture: 0.15 less the arm's 0.024 grown by what the
// tool was lifted (2.02 mm of a bite 1 mm deep): force 3.02 times.
TEST(DeflectionCheckTest, SoftFixtureIsNamedWithTheStiffnessItNeeds) {
  MadeRun made = MakeLoaded();
  made.job.cell.fixture_n_per_mm = Vector3d(2000, 2000, 5);
  AddLayer(&made, sim::ErrorLayer::kFixture, 1.0 / 5);
  AddLayer(&made, sim::ErrorLayer::kArm, 1.0 / 500);
  const CheckResult r = Check(made, CheckDeflection);
  ASSERT_EQ(r.result, Result::kFail) << r.why;
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_THAT(r.findings[0].text, HasSubstr("most of it by the fixture"));
  const double room_mm = 0.15 - 3.02 * 0.024;
  char needed[80];
  std::snprintf(needed, sizeof needed, "a fixture of %.3g N/mm along z at the cut, now 5", 3.02 * 2.4 / room_mm * 5);
  EXPECT_THAT(r.findings[0].text, HasSubstr(needed));
  EXPECT_THAT(r.findings[0].cause, HasSubstr(needed));
}

TEST(DeflectionCheckTest, BandAcrossTheLimitIsUnproven) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kArm, 0.014);   // 0.112, 0.14, 0.168 mm
  const CheckResult r = Check(made, CheckDeflection);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs, testing::Contains(HasSubstr("slot_test")));
}

// Pulled in or pushed off: what counts is how far.
TEST(DeflectionCheckTest, PullIntoTheWorkFailsAlike) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kArm, -0.05);
  const CheckResult r = Check(made, CheckDeflection);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.why, HasSubstr("too deep"));
}

// A layer that is not there never passes.
TEST(DeflectionCheckTest, MissingSpringsAreUnprovenWithTheirKeys) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kArm, 1e-5);
  made.run.execution.missing = {{sim::ErrorLayer::kFixture, "What the fixture gives was not said.", {"`fixture.stiffness`"}}};
  const CheckResult r = Check(made, CheckDeflection);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs, testing::Contains("`fixture.stiffness`"));
}

TEST(DeflectionCheckTest, MissingLostMotionIsAnotherChecksAffair) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kArm, 1e-5);
  made.run.execution.missing = {{sim::ErrorLayer::kLostMotion, "Not said.", {"key"}}};
  EXPECT_EQ(Check(made, CheckDeflection).result, Result::kPass);
}

TEST(DeflectionCheckTest, WithoutMaterialOrSettlingItNeverPasses) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kArm, 1e-5);
  made.run.execution.settled = false;
  EXPECT_EQ(Check(made, CheckDeflection).result, Result::kUnproven);
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kUnproven);
  made.run.execution.settled = true;
  EXPECT_EQ(Check(made, CheckDepth).result, Result::kPass);
  made.run.load.force.reset();
  const CheckResult r = Check(made, CheckDeflection);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs, testing::Contains(HasSubstr("material.cutting_force_n_mm2")));
}

// What the bands leave open widens the depth: 0.1 mm open on a limit of 0.3 mm.
TEST(DeflectionCheckTest, OpenBandsWidenTheDepth) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kArm, 0.02);   // 0.16, 0.20, 0.24 mm
  const Deviation d = Measure(made.job, made.run);
  EXPECT_NEAR(d.open_mm[0], 0.04, 1e-6);
  EXPECT_NEAR(d.p95.high - d.p95.value, 0.04 + sim::kRayBound_mm, 1e-6);
  made.run.execution = {};
  EXPECT_TRUE(Measure(made.job, made.run).open_mm.empty());
}

// Shares: sign and percentile of a field that is half +0.02 and half -0.01 mm.
TEST(LayerSharesTest, ShareHasTheSignOfWhatItCosts) {
  MadeRun made = MakeLoaded();
  AddLayer(&made, sim::ErrorLayer::kArm, 0.002);
  for (std::size_t i = 0; i < made.run.depths.size(); i += 2) made.run.depths[i].sweep = 3;
  made.run.execution.layers[0].of_sweep[3][sim::kNominal] = {0, 0, -0.01F};
  const auto shares = LayerSharesOf(made.run);
  ASSERT_EQ(shares.size(), 1u);
  EXPECT_NEAR(shares[0].signed_mm_p95, 0.02, 1e-6);
  EXPECT_NEAR(shares[0].mean_mm, 0.005, 1e-6);
  made.run.execution.cuts = 1;
  EXPECT_TRUE(LayerSharesOf(made.run).empty());
}

}  // namespace
}  // namespace aircut::verify
