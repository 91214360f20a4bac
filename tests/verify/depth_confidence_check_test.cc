// Oracles: the law of propagation by hand, published budgets, a case to catch and one just inside.

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/depth_uncertainty.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using testing::HasSubstr;

// UNC-19 (EA-4/02 S2, mass of 10 kg): 45 mg at k 2, drift of 15 mg, comparator 14.2 mg,
// twice 10 mg: u = 29.1 mg, U = 58 mg. Drift and the last two are rectangular.
TEST(DepthUncertaintyTest, WeightBudgetOfTheHandbook) {
  DepthUncertainty budget;
  const double third = std::sqrt(3.0);
  for (const double u : {45.0 / 2, 15.0 / third, 14.2, 10.0 / third, 10.0 / third}) budget.of.push_back({"", u, false});
  budget.k = 2;
  EXPECT_NEAR(budget.u_mm(), 29.1, 0.05);
  EXPECT_NEAR(budget.expanded_mm(), 58, 0.5);
  double shares = 0;
  for (const Uncertainty& one : budget.of) shares += budget.ShareOf(one);
  EXPECT_NEAR(shares, 1.0, 1e-12);
}

// UNC-07 (JCGM 101, 9.2.2): the sum of four N(0, 1) has u = 2.00 and 95 % within 3.92.
TEST(DepthUncertaintyTest, SumOfFourNormals) {
  DepthUncertainty budget;
  budget.of.assign(4, {"", 1.0, false});
  budget.k = CoverageFactor(0.95);
  EXPECT_NEAR(budget.u_mm(), 2.0, 1e-12);
  EXPECT_NEAR(budget.expanded_mm(), 3.92, 0.005);
}

// Three standard deviations: 99.73 % (any table of the normal distribution).
TEST(DepthUncertaintyTest, CoverageOfThreeSigma) { EXPECT_NEAR(CoverageFactor(0.9973002), 3.0, 1e-6); }

// All is known: 12 points that scatter, a true arm, a measured bit.
MadeRun MakeKnown() {
  MadeRun made = support::MakeRun();
  made.job.accept.depth_mm = {0.3, true};
  sim::PieceLocation& location = made.run.location;
  location.given = true;
  location.points = 12;
  location.directions_seen = 6;
  location.rms_mm = 0.02;
  made.job.cell.accuracy = sim::StatedAccuracy{0.05, 1e-3, "tracker"};   // over less than any carving
  made.job.cell.repeatability_mm = 0.06;
  made.job.cell.drift = {{2, 0.0, Eigen::Vector3d::Zero()}, {3, 3600.0, Eigen::Vector3d::Zero()}};
  for (auto& [number, cutter] : made.job.cell.cutters) {
    cutter.measured = true;
    cutter.measured_by = "setter";
  }
  made.run.execution = {};
  return made;
}

// By hand: the points scatter by 0.02 sqrt(12 / 6), of which half the variance stays: 0.02;
// the arm 0.05 / sqrt 3 and 0.06 / 3; the setter 0.01 / sqrt 3. Together u = 0.0409.
TEST(DepthConfidenceCheckTest, KnownCellIsSureByHand) {
  const MadeRun made = MakeKnown();
  const CheckResult r = Check(made, CheckDepthConfidence);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  const double u = std::sqrt(0.02 * 0.02 + 0.05 * 0.05 / 3 + 0.02 * 0.02 + 0.01 * 0.01 / 3);
  EXPECT_EQ(*r.worst, Measure(made.job, made.run).p95_mm);
  EXPECT_GE(*r.bound, 1.959964 * u - 1e-9);
  EXPECT_LE(*r.bound, 1.959964 * u + 0.01);   // and what computing leaves open
  EXPECT_THAT(r.why, HasSubstr("the arm from place to place"));
  EXPECT_TRUE(r.findings.empty());
}

// An arm that is true to a millimetre: nothing is shown either way, and it is named.
TEST(DepthConfidenceCheckTest, ArmThatIsNotTrueEnoughIsNamed) {
  MadeRun made = MakeKnown();
  made.job.cell.accuracy->error_mm = 1.0;
  const CheckResult r = Check(made, CheckDepthConfidence);
  ASSERT_EQ(r.result, Result::kUnproven) << r.why;
  EXPECT_THAT(r.needs, testing::Contains(HasSubstr("less doubt about the arm from place to place")));
}

// Caught: two millimetres too deep is more than all doubt.
TEST(DepthConfidenceCheckTest, DepthBeyondAllDoubtFails) {
  MadeRun made = MakeKnown();
  for (sim::RayDepth& d : made.run.depths) d.top_mm = -2.0;
  const CheckResult r = Check(made, CheckDepthConfidence);
  ASSERT_EQ(r.result, Result::kFail) << r.why;
  EXPECT_EQ(r.findings.size(), 1u);
}

// A short piece of work feels a part of what is stated over a long one.
TEST(DepthConfidenceCheckTest, AccuracyCountsOverTheCarvingOnly) {
  MadeRun made = MakeKnown();
  made.job.cell.accuracy->error_mm = 1.0;
  made.job.cell.accuracy->over_mm = 1e6;
  EXPECT_EQ(Check(made, CheckDepthConfidence).result, Result::kPass);
}

// Nothing passes by what nobody said, and each missing thing names its key.
TEST(DepthConfidenceCheckTest, WhatIsNotKnownTakesThePassAway) {
  const struct {
    void (*forget)(MadeRun&);
    const char* need;
  } cases[] = {
      {[](MadeRun& m) { m.job.cell.accuracy.reset(); }, "arm.accuracy"},
      {[](MadeRun& m) { m.job.cell.repeatability_mm.reset(); }, "arm.repeatability_mm"},
      {[](MadeRun& m) { m.job.cell.drift.clear(); }, "arm.drift_test"},
      {[](MadeRun& m) { m.run.location.given = false; m.job.cell.fit.clear(); }, "workpiece.touched"},
      {[](MadeRun& m) { m.run.location.points = 6; }, "workpiece.touched"},
      {[](MadeRun& m) { m.run.location.directions_seen = 2; }, "workpiece.touched"},   // points on one line
      {[](MadeRun& m) { m.job.cell.cutters.begin()->second.measured = false; }, "measured"},
      {[](MadeRun& m) { m.run.execution.missing = {{sim::ErrorLayer::kFixture, "Not said.", {"`fixture.stiffness`"}}}; }, "fixture.stiffness"}};
  for (const auto& c : cases) {
    MadeRun made = MakeKnown();
    c.forget(made);
    const CheckResult r = Check(made, CheckDepthConfidence);
    EXPECT_EQ(r.result, Result::kUnproven) << c.need;
    EXPECT_THAT(r.needs, testing::Contains(HasSubstr(c.need)));
  }
}

// Metamorphic (domain notes): twice the uncertainty never passes more.
TEST(DepthConfidenceCheckTest, MoreDoubtNeverPassesMore) {
  double before = 0;
  for (const double factor : {1.0, 2.0, 4.0, 8.0}) {
    MadeRun made = MakeKnown();
    made.run.location.rms_mm *= factor;
    const CheckResult r = Check(made, CheckDepthConfidence);
    EXPECT_GT(*r.bound, before);
    before = *r.bound;
  }
}

}  // namespace
}  // namespace aircut::verify
