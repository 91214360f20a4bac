#include "verify/verdict.h"

#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;
using testing::Not;

CheckResult Made(const std::string& id, Group group, Result result, const char* required) {
  CheckResult r;
  r.id = id;
  r.group = group;
  r.result = result;
  r.required = std::string(required) == "required";
  r.why = id + " says why";
  return r;
}

struct Row {
  Group group;
  Result result;
  bool required, computed;
  Result verdict;
};

// Oracle: design, sections 1 and 6, beside one required check that passes.
TEST(JudgeTest, VerdictIsTheWorstOfWhatCounts) {
  const Row rows[] = {
      {Group::kQuality, Result::kPass, true, true, Result::kPass},
      {Group::kQuality, Result::kUnproven, true, true, Result::kUnproven},
      {Group::kQuality, Result::kFail, true, true, Result::kFail},
      {Group::kQuality, Result::kFail, false, true, Result::kPass},
      {Group::kQuality, Result::kUnproven, true, false, Result::kUnproven},
      {Group::kPremise, Result::kUnproven, true, false, Result::kUnproven},
      {Group::kPremise, Result::kUnproven, false, true, Result::kPass},
      {Group::kHazard, Result::kFail, false, true, Result::kFail},         // never leaves
      {Group::kHazard, Result::kUnproven, false, true, Result::kUnproven},
      {Group::kHazard, Result::kPass, false, true, Result::kUnproven},     // left out: no pass
      {Group::kHazard, Result::kPass, true, true, Result::kPass},
  };
  for (const Row& row : rows) {
    CheckResult r = Made("x", row.group, row.result, row.required ? "required" : "");
    r.computed = row.computed;
    const Verdict v = Judge({}, {Made("depth", Group::kQuality, Result::kPass, "required"), r});
    EXPECT_EQ(v.result, row.verdict) << WordFor(row.result) << row.required << row.computed;
  }
}

TEST(JudgeTest, FailOutweighsUnproven) {
  const Verdict v = Judge({}, {Made("reach", Group::kHazard, Result::kUnproven, "required"),
                               Made("depth", Group::kQuality, Result::kFail, "required")});
  EXPECT_EQ(v.result, Result::kFail);
}

TEST(JudgeTest, NothingCheckedIsUnproven) {
  EXPECT_EQ(Judge({}, {}).result, Result::kUnproven);
  EXPECT_EQ(Judge({}, {Made("depth", Group::kQuality, Result::kPass, "")}).result,
            Result::kUnproven);
}

std::vector<CheckResult> Results(const MadeRun& made) {
  const Deviation deviation = Measure(made.job, made.run);
  return RunChecks({made.job, made.run, deviation});
}

MadeRun NarrowedRun() {
  MadeRun made = MakeRun();
  made.job.require_given = true;
  made.job.require = {"piece-located", "depth", "leftover", "flute-length"};
  for (const CheckEntry& entry : Catalogue()) {
    if (entry.group == Group::kHazard) made.job.require.push_back(entry.id);
  }
  return made;
}

// Oracle: the sentence of the design, section 8. 13 hazard checks and four more
// are asked for, of 42.
TEST(JudgeTest, CleanRunSaysTheExactSentence) {
  const MadeRun made = NarrowedRun();
  const Verdict v = Judge(made.job, Results(made));
  EXPECT_EQ(v.result, Result::kPass);
  EXPECT_EQ(v.headline,
            "No fault found in 17 checks of these files. This is not leave to run.");
  EXPECT_EQ(v.mend_first, "");
  EXPECT_THAT(v.reason, HasSubstr("17 of 17 required checks pass"));
  EXPECT_THAT(v.reason, HasSubstr("Not asked for: 25 checks"));
}

// Oracle: design, section 1, no pass by omission.
TEST(JudgeTest, HazardCheckLeftOutKeepsTheJobFromAPassAndIsNamed) {
  MadeRun made = NarrowedRun();
  std::vector<std::string>& require = made.job.require;
  require.erase(std::find(require.begin(), require.end(), "clamp-zone"));
  const Verdict v = Judge(made.job, Results(made));
  EXPECT_EQ(v.result, Result::kUnproven);
  EXPECT_THAT(v.headline, HasSubstr("leaves out 1 hazard check (clamp-zone)"));
  EXPECT_THAT(v.mend_first, HasSubstr("clamp-zone"));
}

TEST(JudgeTest, FailedCheckThatWasNotAskedForIsSaid) {
  MadeRun made = NarrowedRun();
  made.run.clearances[0].clearance_mm = 4.0;   // under the 5 mm of clearance
  const Verdict v = Judge(made.job, Results(made));
  EXPECT_EQ(v.result, Result::kPass);
  EXPECT_THAT(v.reason, HasSubstr("failed all the same: clearance"));
  EXPECT_EQ(v.headline,
            "No fault found in 17 checks asked for; not asked for, but failing: clearance. This is not leave to run.");
}

// Oracle: the look: a sentence with a number and a place, then what to mend.
TEST(JudgeTest, LowFrameIsToldWithNumberPlaceAndCause) {
  MadeRun made = NarrowedRun();
  for (sim::RayDepth& d : made.run.depths) d.top_mm = -2.0;
  made.run.location.before_mm = 2.0;
  made.run.location.X_SA = kinematics::Pose(Eigen::Translation3d(0, 0, 2.0));
  const Verdict v = Judge(made.job, Results(made));
  EXPECT_EQ(v.result, Result::kFail);
  EXPECT_THAT(v.headline, HasSubstr("cut 2.00 mm too deep"));
  EXPECT_THAT(v.headline, HasSubstr("line"));
  EXPECT_THAT(v.mend_first, HasSubstr("The path lies 2.00 mm below the touched piece"));
  EXPECT_THAT(v.reason, HasSubstr("gouge"));
  EXPECT_THAT(v.reason, HasSubstr("depth"));
  EXPECT_THAT(v.reason, HasSubstr("piece-located"));
}

TEST(JudgeTest, WhatCanHurtSomeoneSpeaksFirst) {
  MadeRun made = NarrowedRun();
  for (sim::RayDepth& d : made.run.depths) d.top_mm = -2.0;
  made.run.clearances[0].clearance_mm = -1.0;
  EXPECT_THAT(Judge(made.job, Results(made)).headline, HasSubstr("would collide"));
}

TEST(JudgeTest, UnprovenNamesTheInputThatWouldSettleIt) {
  MadeRun made = NarrowedRun();
  made.run.location = {};
  const Verdict v = Judge(made.job, Results(made));
  EXPECT_EQ(v.result, Result::kUnproven);
  EXPECT_THAT(v.headline, HasSubstr("1 of 17 required checks could not be settled"));
  EXPECT_THAT(v.headline, HasSubstr("piece-located"));
  EXPECT_THAT(v.mend_first, HasSubstr("workpiece.touched"));
}

TEST(JudgeTest, UnprovenForWhatIsAskedAndNotComputed) {
  MadeRun made = NarrowedRun();
  made.job.require.push_back("depth-confidence");
  const Verdict v = Judge(made.job, Results(made));
  EXPECT_EQ(v.result, Result::kUnproven);
  EXPECT_THAT(v.mend_first, HasSubstr("does not compute"));
  EXPECT_THAT(v.headline, Not(HasSubstr("No fault")));
}

bool Sees(const Verdict& v, const std::string& words) {
  return std::any_of(v.cannot_see.begin(), v.cannot_see.end(), [&](const BlindSpot& s) {
    return s.text.find(words) != std::string::npos || s.test.find(words) != std::string::npos;
  });
}

TEST(BlindSpotsTest, EachHasItsShopFloorTest) {
  MadeRun made = NarrowedRun();
  EXPECT_FALSE(Sees(Judge(made.job, Results(made)), "bend under the cutting force"));
  made.run.execution.missing = {{sim::ErrorLayer::kFixture, "What the fixture gives was not said.", {"fixture.stiffness"}}};
  const Verdict v = Judge(made.job, Results(made));
  EXPECT_GE(v.cannot_see.size(), 5u);
  for (const BlindSpot& s : v.cannot_see) {
    EXPECT_FALSE(s.text.empty());
    EXPECT_FALSE(s.test.empty());
  }
  EXPECT_TRUE(Sees(v, "emergency stop"));
  EXPECT_TRUE(Sees(v, "bend under the cutting force"));
}

TEST(BlindSpotsTest, TheyFollowWhatTheInputsLack) {
  MadeRun made = NarrowedRun();
  Verdict v = Judge(made.job, Results(made));
  EXPECT_TRUE(Sees(v, "moved since it was touched"));
  EXPECT_FALSE(Sees(v, "typed, not measured"));
  EXPECT_TRUE(Sees(v, "4f2a0000"));   // the hash of the path that was read
  made.run.location = {};
  made.job.cell.cutters.at(1).measured = false;
  made.job.inputs.clear();
  v = Judge(made.job, Results(made));
  EXPECT_FALSE(Sees(v, "moved since it was touched"));
  EXPECT_TRUE(Sees(v, "touch three points"));
  EXPECT_TRUE(Sees(v, "cutter 1 are typed, not measured"));
  EXPECT_FALSE(Sees(v, "SHA-256"));
}

TEST(BlindSpotsTest, OpenDirectionsOfThePieceAreSaid) {
  MadeRun made = NarrowedRun();
  EXPECT_FALSE(Sees(Judge(made.job, Results(made)), "do not settle"));
  made.run.location.directions_seen = 3;
  EXPECT_TRUE(Sees(Judge(made.job, Results(made)), "do not settle"));
}

}  // namespace
}  // namespace aircut::verify
