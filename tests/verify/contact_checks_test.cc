#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

constexpr int kApproach = 0, kRapid = 11;   // sweeps of the made run that are no cuts

sim::SweepContact& Contact(MadeRun* made, int sweep) { return made->run.cut.contact.sweeps[sweep]; }

void Bite(MadeRun* made, int sweep, float bite_mm) {
  Contact(made, sweep).bite_mm = bite_mm;
  Contact(made, sweep).bite_bound_mm = 0.01f;
}

TEST(RapidContactTest, RapidThroughMaterialIsCaughtWithLineTimeAndPlace) {
  MadeRun made = MakeRun();
  Bite(&made, kRapid, 2.0f);
  const CheckResult r = Check(made, CheckRapidContact);
  ASSERT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_EQ(r.findings[0].line, 13);
  EXPECT_EQ(r.findings[0].time_s, 11.0);
  EXPECT_EQ(*r.findings[0].at_S, Eigen::Vector3d(60, 58, 10));
  EXPECT_THAT(r.findings[0].text, HasSubstr("2.00 mm"));
  EXPECT_THAT(r.findings[0].text, HasSubstr("line 13"));
}

// Oracle: design, section 6: more than 0.05 mm; a retract that starts in its
// own groove stays quiet.
TEST(RapidContactTest, RetractFromItsOwnGrooveStaysQuiet) {
  MadeRun made = MakeRun();
  Bite(&made, kRapid, 0.039f);
  EXPECT_EQ(Check(made, CheckRapidContact).result, Result::kPass);
  Bite(&made, kRapid, 0.055f);
  const CheckResult open = Check(made, CheckRapidContact);
  EXPECT_EQ(open.result, Result::kUnproven);
  ASSERT_EQ(open.needs.size(), 1u);
  EXPECT_THAT(open.needs[0], HasSubstr("resolution_mm"));
  Bite(&made, kRapid, 0.065f);
  EXPECT_EQ(Check(made, CheckRapidContact).result, Result::kFail);
}

TEST(RapidContactTest, ApproachAndReturnCountAsRapids) {
  MadeRun made = MakeRun();
  Bite(&made, 12, 1.0f);
  made.run.track.sweeps[12].rapid = false;   // no path line all the same
  const CheckResult r = Check(made, CheckRapidContact);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings[0].line, 0);
  EXPECT_THAT(r.findings[0].text, HasSubstr("on the way to or from the path"));
}

TEST(RapidContactTest, CutsAtFeedAreNoConcern) {
  EXPECT_EQ(Check(MakeRun(), CheckRapidContact).result, Result::kPass);
}

TEST(RapidContactTest, NeighbouringLinesAreOneFinding) {
  MadeRun made = MakeRun();
  for (const int sweep : {3, 4, 5, 8}) {
    made.run.track.sweeps[sweep].rapid = true;
    Bite(&made, sweep, sweep == 4 ? 3.0f : 1.0f);
  }
  const CheckResult r = Check(made, CheckRapidContact);
  ASSERT_EQ(r.findings.size(), 2u);
  EXPECT_EQ(r.findings[0].lines, (std::vector<int>{5, 7}));
  EXPECT_EQ(r.findings[0].value, 3.0);
  EXPECT_EQ(r.findings[1].line, 10);
}

TEST(RapidContactTest, NotANumberNeverPasses) {
  MadeRun made = MakeRun();
  Bite(&made, kApproach, std::numeric_limits<float>::quiet_NaN());
  EXPECT_EQ(Check(made, CheckRapidContact).result, Result::kUnproven);
}

TEST(RapidContactTest, UnfollowedPathNeverPasses) {
  MadeRun made = MakeRun();
  support::BreakMotion(&made, kinematics::PlanFaultKind::kOutOfReach);
  for (const auto check :
       {CheckRapidContact, CheckStoppedContact, CheckBodyContact, CheckFluteLength}) {
    EXPECT_EQ(Check(made, check).result, Result::kUnproven);
  }
}

TEST(RapidContactTest, MissingRecordIsUnproven) {
  MadeRun made = MakeRun();
  made.run.cut.contact.sweeps.pop_back();
  for (const auto check :
       {CheckRapidContact, CheckStoppedContact, CheckBodyContact, CheckFluteLength}) {
    EXPECT_EQ(Check(made, check).result, Result::kUnproven);
  }
}

struct SpindleCase {
  sim::SpindleState state;
  const char* word;
};

// Oracle: domain notes A16: off, wrong direction, or not up to speed in contact.
TEST(StoppedContactTest, EachWrongSpindleInTheMaterialIsCaughtAndNamed) {
  for (const SpindleCase& c : {SpindleCase{sim::SpindleState::kStopped, "stopped"},
                               SpindleCase{sim::SpindleState::kTooSlow, "slower"},
                               SpindleCase{sim::SpindleState::kTooFast, "faster"},
                               SpindleCase{sim::SpindleState::kWrongWay, "wrong way"}}) {
    MadeRun made = MakeRun();
    made.run.track.sweeps[4].spindle = c.state;
    const CheckResult r = Check(made, CheckStoppedContact);
    ASSERT_EQ(r.result, Result::kFail);
    EXPECT_THAT(r.findings[0].text, HasSubstr(c.word));
    EXPECT_EQ(r.findings[0].line, 6);
  }
}

TEST(StoppedContactTest, StoppedInTheAirStaysQuiet) {
  MadeRun made = MakeRun();
  made.run.track.sweeps[kApproach].spindle = sim::SpindleState::kStopped;
  EXPECT_EQ(Check(made, CheckStoppedContact).result, Result::kPass);
  made.run.track.sweeps[4].spindle = sim::SpindleState::kStopped;
  Bite(&made, 4, 0.04f);
  EXPECT_EQ(Check(made, CheckStoppedContact).result, Result::kPass);
  Bite(&made, 4, 0.05f);
  EXPECT_EQ(Check(made, CheckStoppedContact).result, Result::kUnproven);
}

TEST(BodyContactTest, EachBodyIsCaughtByItsName) {
  const char* names[] = {"shank", "holder", "spindle housing"};
  for (int body = 0; body < 3; ++body) {
    MadeRun made = MakeRun();
    Contact(&made, 5).body_bite_mm = 0.8f;
    Contact(&made, 5).body = static_cast<std::int8_t>(body);
    const CheckResult r = Check(made, CheckBodyContact);
    ASSERT_EQ(r.result, Result::kFail);
    EXPECT_THAT(r.findings[0].text, HasSubstr(std::string("The ") + names[body]));
    EXPECT_EQ(r.findings[0].line, 7);
  }
}

// The limit is 0.05 mm; values either side of it by more or less than the bound.
TEST(BodyContactTest, GrazeWithinTheBoundIsUnprovenNotFailed) {
  MadeRun made = MakeRun();
  Contact(&made, 5).body_bite_mm = 0.013f;
  Contact(&made, 5).body_bound_mm = 0.03f;
  EXPECT_EQ(Check(made, CheckBodyContact).result, Result::kPass);
  Contact(&made, 5).body_bite_mm = 0.07f;
  EXPECT_EQ(Check(made, CheckBodyContact).result, Result::kUnproven);
  Contact(&made, 5).body_bite_mm = 0.09f;
  EXPECT_EQ(Check(made, CheckBodyContact).result, Result::kFail);
}

// Nothing measured, but a sharp rim within a voxel could have been missed.
TEST(BodyContactTest, NearMissThatTheVoxelsCannotSettleIsUnproven) {
  MadeRun made = MakeRun();
  Contact(&made, 5).body_bound_mm = 0.22f;
  EXPECT_EQ(Check(made, CheckBodyContact).result, Result::kUnproven);
}

TEST(BodyContactTest, MissingHolderOrHousingIsNamed) {
  MadeRun made = MakeRun();
  made.job.cell.cutters.at(1).holder.clear();
  made.job.cell.housing_H.clear();
  const CheckResult r = Check(made, CheckBodyContact);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_EQ(r.needs, (std::vector<std::string>{"`cutters.1.holder`", "`spindle.housing`"}));
}

// Oracle: the design, section 5: `none` is an answer.
TEST(BodyContactTest, HolderAndHousingSaidToBeAbsentAreNotAskedFor) {
  MadeRun made = MakeRun();
  sim::CellCutter& cutter = made.job.cell.cutters.at(1);
  cutter.holder.clear();
  cutter.holder_said = sim::Declared::kNone;
  made.job.cell.housing_H.clear();
  made.job.cell.housing = sim::Declared::kNone;
  EXPECT_EQ(Check(made, CheckBodyContact).result, Result::kPass);
}

TEST(FluteLengthTest, CutHigherThanTheFlutesIsCaught) {
  MadeRun made = MakeRun();
  Contact(&made, 6).axial_mm = 23.0f;
  const CheckResult r = Check(made, CheckFluteLength);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings[0].line, 8);
  EXPECT_EQ(r.limit, 22.0);
}

// Oracle: the bound is one voxel of 0.25 mm; flutes end at 22 mm.
TEST(FluteLengthTest, JustUnderTheEndOfTheFlutesStaysQuiet) {
  MadeRun made = MakeRun();
  Contact(&made, 6).axial_mm = 21.75f;
  EXPECT_EQ(Check(made, CheckFluteLength).result, Result::kPass);
  for (const float open_mm : {21.8f, 22.0f, 22.25f}) {
    Contact(&made, 6).axial_mm = open_mm;
    EXPECT_EQ(Check(made, CheckFluteLength).result, Result::kUnproven) << open_mm;
  }
  Contact(&made, 6).axial_mm = 22.3f;
  EXPECT_EQ(Check(made, CheckFluteLength).result, Result::kFail);
}

TEST(FluteLengthTest, NothingRemovedOrNotANumberIsUnproven) {
  MadeRun made = MakeRun();
  Contact(&made, 6).axial_mm = std::numeric_limits<float>::quiet_NaN();
  EXPECT_EQ(Check(made, CheckFluteLength).result, Result::kUnproven);
  for (sim::SweepContact& c : made.run.cut.contact.sweeps) c = sim::SweepContact{};
  EXPECT_EQ(Check(made, CheckFluteLength).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
