#include <cmath>
#include <regex>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/spindle_rates.h"
#include "sim/swept_cut.h"
#include "tests/support/made_run.h"
#include "tests/support/simple_tracks.h"
#include "verify/load_support.h"

namespace aircut::verify {
namespace {

using sim::kLeast;
using sim::kMost;
using sim::kNominal;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::ElementsAre;
using testing::HasSubstr;

void SetChip(MadeRun& made, double feed_per_tooth_mm) {
  for (sim::SweepLoad& load : made.run.load.sweeps) {
    load.feed_per_tooth_mm = load.chip_most_mm = static_cast<float>(feed_per_tooth_mm);
  }
}

void ScaleForces(MadeRun& made, float factor) {
  for (sim::SweepLoad& load : made.run.load.sweeps) {
    for (std::size_t b = 0; b < sim::kBandEnds; ++b) load.peak_S_n[b] *= factor, load.power_w[b] *= factor;
  }
}

// The made cutter bears 0.02 to 0.12 mm per tooth; its chips are known to 0.001 mm.
TEST(ChipLoadTest, ChipsBeyondTheRangeAreCaughtAndJustInsideStaysQuiet) {
  MadeRun made = MakeRun();
  SetChip(made, 0.118);
  EXPECT_EQ(Check(made, CheckChipLoad).result, Result::kPass);
  SetChip(made, 0.1195);
  EXPECT_EQ(Check(made, CheckChipLoad).result, Result::kUnproven);   // within the voxel's bound
  SetChip(made, 0.24);
  const CheckResult thick = Check(made, CheckChipLoad);
  ASSERT_EQ(thick.result, Result::kFail);
  ASSERT_EQ(thick.findings.size(), 1u);
  EXPECT_THAT(thick.findings[0].text, HasSubstr("A feed of 49 % passes"));   // 0.12 / 0.241
  SetChip(made, 0.021);
  EXPECT_EQ(Check(made, CheckChipLoad).result, Result::kPass);
  SetChip(made, 0.01);
  const CheckResult thin = Check(made, CheckChipLoad);
  ASSERT_EQ(thin.result, Result::kFail);
  EXPECT_THAT(thin.findings[0].text, HasSubstr("A feed of 200 % passes, or 9000 rpm instead of 18000"));
}

// Starts and stops: a tenth of the cut's length may be slower.
TEST(ChipLoadTest, SlowStartsStayQuiet) {
  MadeRun made = MakeRun();
  made.run.load.sweeps[0].feed_per_tooth_mm = 0.001f;
  const auto first = static_cast<std::size_t>(made.run.load.sweeps[0].sweep);
  made.run.track.p_ST[first] = made.run.track.p_ST[first + 1] + Eigen::Vector3d(0, 0, 10);   // a short way down
  EXPECT_EQ(Check(made, CheckChipLoad).result, Result::kPass);
}

// CUT-18: a quarter less at two diameters deep, half at three.
TEST(ChipLoadTest, DeepCutsBearThinnerChips) {
  MadeRun made = MakeRun();
  const auto deep = [&](float diameters, double chip_mm) {
    SetChip(made, chip_mm);
    for (sim::SweepLoad& load : made.run.load.sweeps) load.depth_mm = 6.0f * diameters;
    return Check(made, CheckChipLoad);
  };
  EXPECT_NEAR(*deep(1, 0.05).limit, 0.12, 1e-9);
  EXPECT_NEAR(*deep(2, 0.05).limit, 0.75 * 0.12, 1e-9);
  EXPECT_NEAR(*deep(3, 0.05).limit, 0.50 * 0.12, 1e-9);
  EXPECT_EQ(deep(2, 0.1).result, Result::kFail);
}

TEST(ChipLoadTest, ChartOfTheMaterialStandsInAndIsSaidSo) {
  MadeRun made = MakeRun();
  made.job.cell.cutters.at(1).chip_load.reset();
  const CheckResult nothing = Check(made, CheckChipLoad);
  ASSERT_EQ(nothing.result, Result::kUnproven);
  EXPECT_THAT(nothing.needs, ElementsAre(HasSubstr("`cutters.1.chip_load`")));
  made.job.material->chip_load = {{3.0, 0.01, 0.05}, {9.0, 0.03, 0.15}};   // at 6 mm: 0.02 to 0.10
  made.job.material->chip_load_source = "a chart";
  const CheckResult chart = Check(made, CheckChipLoad);
  EXPECT_EQ(chart.result, Result::kPass);
  EXPECT_TRUE(chart.assumed);
  EXPECT_NEAR(*chart.limit, 0.10, 1e-9);
  EXPECT_THAT(chart.why, HasSubstr("a chart"));
}

TEST(LoadChecksTest, WhatWasNotReckonedIsUnproven) {
  MadeRun made = MakeRun();
  made.run.load.beyond_model = 2;
  for (const auto check : {CheckChipLoad, CheckSpindleLoad, CheckToolStrength, CheckShaking}) {
    EXPECT_EQ(Check(made, check).result, Result::kUnproven);
  }
  made.run.load = {};
  for (const auto check : {CheckChipLoad, CheckSpindleLoad, CheckToolStrength, CheckShaking}) {
    EXPECT_EQ(Check(made, check).result, Result::kUnproven);
  }
}

TEST(LoadChecksTest, WithoutCoefficientsTheKeyIsNamed) {
  MadeRun made = MakeRun();
  made.run.load.force.reset();
  for (const auto check : {CheckSpindleLoad, CheckToolStrength}) {
    const CheckResult r = Check(made, check);
    EXPECT_EQ(r.result, Result::kUnproven);
    ASSERT_EQ(r.needs.size(), 1u);
    EXPECT_THAT(r.needs[0], HasSubstr("material.cutting_force_n_mm2"));
  }
  EXPECT_EQ(Check(made, CheckChipLoad).result, Result::kPass);   // a chip needs no force
}

// 40 W at the bad end of 2,200 W. At 70 % of it, 1,540 W, the bad end decides.
TEST(SpindleLoadTest, BadEndOfTheBandDecides) {
  const auto at = [](float factor) {
    MadeRun made = MakeRun();
    ScaleForces(made, factor);
    return Check(made, CheckSpindleLoad);
  };
  EXPECT_EQ(at(38.4f).result, Result::kPass);            // 1,536 W
  const CheckResult open = at(38.6f);                    // 1,544 W at the bad end, 515 W at the good one
  EXPECT_EQ(open.result, Result::kUnproven);
  EXPECT_THAT(open.needs, ElementsAre(HasSubstr("material.slot_test")));
  const CheckResult fail = at(120.0f);                   // 1,600 W even at the good end
  ASSERT_EQ(fail.result, Result::kFail);
  EXPECT_EQ(fail.findings.size(), 1u);
}

TEST(SpindleLoadTest, CurveIsReadBetweenItsPointsAndNotBeyond) {
  MadeRun made = MakeRun();
  made.job.cell.power = {{6000, 100}, {30000, 100.0 + 24.0}};   // 112 W at 18,000 rpm
  const CheckResult r = Check(made, CheckSpindleLoad);
  EXPECT_NEAR(*r.worst, 100.0 * 40.0 / 1.5 / 112.0, 1e-3);
  made.job.cell.power = {{3000, 500}, {12000, 2200}};
  const CheckResult beyond = Check(made, CheckSpindleLoad);
  EXPECT_EQ(beyond.result, Result::kUnproven);
  EXPECT_THAT(beyond.needs, ElementsAre(HasSubstr("18000 rpm")));
  made.job.cell.power.clear();
  EXPECT_THAT(Check(made, CheckSpindleLoad).needs, ElementsAre(HasSubstr("spindle.power_w")));
}

// 12 N at the bad end, 0.6 mm up a 6 mm ball: 4.8 mm carry for 22 mm, then 6 mm for 40.
// 32 F (z - h) / (pi d^3): 23.7 MPa at the flutes' end.
TEST(ToolStrengthTest, StressOfTheSteppedCantileverAgainstAThirdOfItsStrength) {
  const auto at = [](float factor) {
    MadeRun made = MakeRun();
    ScaleForces(made, factor);
    return Check(made, CheckToolStrength);
  };
  const CheckResult quiet = at(1.0f);
  EXPECT_EQ(quiet.result, Result::kPass);
  EXPECT_NEAR(*quiet.limit, 2500.0 / 3, 1e-9);
  EXPECT_NEAR(*quiet.worst + *quiet.bound, 32 * 12 * 21.4 / (kinematics::kPi * std::pow(4.8, 3)), 1e-3);
  const float near = static_cast<float>(2500.0 / 3 / (*quiet.worst + *quiet.bound));
  EXPECT_EQ(at(0.999f * near).result, Result::kPass);
  EXPECT_EQ(at(1.01f * near).result, Result::kUnproven);
  EXPECT_EQ(at(3.1f * near).result, Result::kFail);        // even at the good end
}

TEST(ToolStrengthTest, UnstatedStrengthIsABand) {
  MadeRun made = MakeRun();
  made.job.cell.cutters.at(1).strength_mpa.reset();
  const CheckResult quiet = Check(made, CheckToolStrength);
  EXPECT_EQ(quiet.result, Result::kPass);
  EXPECT_TRUE(quiet.assumed);
  EXPECT_NEAR(*quiet.limit, 500, 1e-9);
  // Above a third of the least strength at the good end, below that of the largest.
  ScaleForces(made, static_cast<float>(3.3 * 500 / (*quiet.worst + *quiet.bound)));
  const CheckResult open = Check(made, CheckToolStrength);
  EXPECT_EQ(open.result, Result::kUnproven);
  EXPECT_THAT(open.needs, testing::Contains(HasSubstr("cutters.1.strength_mpa")));
}

// 18,000 rpm: 300 Hz, teeth at 600 Hz and its multiples; the mode at 14 Hz is far.
TEST(ShakingTest, NeverPassesWithoutAMeasuredMode) {
  MadeRun made = MakeRun();
  EXPECT_EQ(Check(made, CheckShaking).result, Result::kPass);
  EXPECT_THAT(Check(made, CheckShaking).why, HasSubstr("Screening only"));
  made.job.cell.modes.clear();
  const CheckResult open = Check(made, CheckShaking);
  EXPECT_EQ(open.result, Result::kUnproven);
  EXPECT_THAT(open.needs, ElementsAre(HasSubstr("arm.modes")));
}

TEST(ShakingTest, SpindleAndTeethKeepClearOfModes) {
  MadeRun made = MakeRun();
  const auto at = [&](double hz) {
    made.job.cell.modes = {{hz, "tap test"}};
    return Check(made, CheckShaking);
  };
  EXPECT_EQ(at(1.01 * 300 / 0.7).result, Result::kPass);       // the turn is 30.7 % below, the teeth 39 % above
  EXPECT_EQ(at(0.99 * 300 / 0.7).result, Result::kFail);       // 29.3 % below
  EXPECT_EQ(at(450).result, Result::kPass);                    // 33 % from both
  EXPECT_EQ(at(600).result, Result::kFail);
  const CheckResult turn = at(290);
  ASSERT_EQ(turn.result, Result::kFail);
  EXPECT_THAT(turn.findings[0].text, testing::ContainsRegex("[0-9]+ rpm in place of 18000"));
}

// A real cut, so that the smallest change can be reckoned: at the change it names the
// check passes, a percent above it does not.
TEST(LoadChecksTest, SmallestChangePasses) {
  MadeRun made = MakeRun();
  std::vector<Eigen::Vector3d> tips;
  for (int i = 0; i <= 11; ++i) tips.push_back({-30.0 + 5.0 * i, 0, -2});
  made.run.track = sim::UprightTrack(sim::Cutter::Ball(6, 22), tips);
  made.job.path.resize(tips.size());
  for (std::size_t i = 0; i < tips.size(); ++i) {
    support::SetLine(static_cast<int>(i) + 2, tips[i], kinematics::MoveKind::kCut, &made.job.path[i]);
  }
  made.run.executed = false;
  for (double& t : made.run.track.time_s) t *= 0.1;
  sim::CutOptions options;
  made.run.cut = sim::CutGrid(sim::Block(70, 40, 10), made.run.track, options);
  const sim::SpindleRates rates = sim::SpindleRatesOf(made.job, made.run);
  ASSERT_EQ(rates.rpm[4], 18000);
  const auto load = [&] {
    made.run.load = sim::ComputeCuttingLoad({made.run.track, made.run.cut.contact, rates, made.run.load.force, 1});
  };
  load();
  double most = 0, least = 1e30;
  for (const sim::SweepLoad& l : made.run.load.sweeps) {
    most = std::max(most, static_cast<double>(l.power_w[kMost]));
    least = std::min(least, static_cast<double>(l.power_w[kLeast]));
  }
  // The bad end takes a quarter too much.
  const double power = most / 1.25 / 0.7;
  made.job.cell.power = {{3000, power}, {24000, power}};
  const CheckResult open = Check(made, CheckSpindleLoad);
  ASSERT_EQ(open.result, Result::kUnproven);
  std::smatch match;
  ASSERT_TRUE(std::regex_search(open.why, match, std::regex("A feed of ([0-9]+) % passes")));
  const double factor = std::stod(match[1]) / 100;
  const auto times = made.run.track.time_s;
  const auto result_at = [&](double feed) {
    for (std::size_t i = 0; i < times.size(); ++i) made.run.track.time_s[i] = times[i] / feed;
    load();
    made.run.executed = true;            // what is asked is the load, not who follows
    const Result result = Check(made, CheckSpindleLoad).result;
    made.run.executed = false;
    return result;
  };
  EXPECT_EQ(result_at(factor), Result::kPass);
  EXPECT_EQ(result_at(factor + 0.011), Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
