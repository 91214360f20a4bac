// A job with an arm whose postures are searched, from its files to the checks.
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/dry_run.h"
#include "tests/support/sample_arm.h"
#include "tests/support/searched_arms.h"
#include "tests/support/tiny_job.h"
#include "verify/arm_postures.h"
#include "verify/cell_sheet.h"
#include "verify/checks.h"

namespace aircut::verify {
namespace {

using test::TinyJob;
using ::testing::HasSubstr;
using ::testing::Not;

TinyJob WithOffsetWrist() {
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", test::TinyArmForm(), test::OffsetWristForm());
  return tiny;
}

// Every check of the motion of a job.
struct Checked {
  explicit Checked(const TinyJob& tiny)
      : job(sim::LoadJob(tiny.WriteTo(folder), {})), run(sim::Execute(job, Coarse())) {}
  static sim::RunOptions Coarse() {
    sim::RunOptions options;
    options.resolution_mm = 1.0;
    return options;
  }
  CheckResult Of(CheckResult (*check)(const CheckInputs&)) const { return check({job, run, deviation}); }

  test::TempFolder folder;
  sim::Job job;
  sim::Run run;
  Deviation deviation;
};

TEST(SearchedArmTest, GrooveIsReachedAndTheSearchIsNamedWithItsRate) {
  const Checked checked(WithOffsetWrist());
  const CheckResult reach = checked.Of(CheckReach);
  EXPECT_EQ(reach.result, Result::kPass) << reach.why;
  EXPECT_THAT(reach.why, HasSubstr("searched, as this arm has no closed form: found at 500 of 500"));
  EXPECT_EQ(checked.Of(CheckJointRange).result, Result::kPass);
  EXPECT_EQ(checked.Of(CheckPostureChange).result, Result::kPass);
  EXPECT_NE(checked.Of(CheckSingularity).result, Result::kUnproven);
}

// Oracle: by hand. Beyond the sum of all links it is certain; over the
// shoulder, 1990 mm up at the most, the search finds nothing inside that sum, and
// nothing more can be said.
TEST(SearchedArmTest, OnlyWhatIsSurelyOutOfReachFails) {
  const std::string placed = "in_world: {position: ";
  TinyJob far = WithOffsetWrist();
  far.Change("tiny.cell.yaml", placed + "[1000, -20, 250]", placed + "[4000, -20, 250]");
  const CheckResult surely = Checked(far).Of(CheckReach);
  EXPECT_EQ(surely.result, Result::kFail);
  EXPECT_GT(*surely.worst, 2000.0);
  TinyJob near = WithOffsetWrist();
  near.Change("tiny.cell.yaml", placed + "[1000, -20, 250]", placed + "[100, -20, 1700]");
  const CheckResult open = Checked(near).Of(CheckReach);
  EXPECT_EQ(open.result, Result::kUnproven);
  EXPECT_THAT(open.why, HasSubstr("no solution was found"));
  EXPECT_FALSE(open.needs.empty());
  EXPECT_FALSE(open.findings.empty());
}

// A joint that leaves its range in the posture found may have another posture;
// one that is stated has not.
TEST(SearchedArmTest, RangeLeftByAFoundPostureIsOpen) {
  TinyJob narrow = WithOffsetWrist();
  narrow.Change("tiny.cell.yaml", "{range: [-160, 160], speed", "{range: [107, 112], speed");
  const CheckResult range = Checked(narrow).Of(CheckJointRange);
  EXPECT_EQ(range.result, Result::kUnproven);
  EXPECT_THAT(range.why, HasSubstr("another one may do"));
  TinyJob closed_form;
  closed_form.Change("tiny.cell.yaml", "{range: [-160, 160], speed", "{range: [107, 112], speed");
  EXPECT_EQ(Checked(closed_form).Of(CheckJointRange).result, Result::kFail);
}

TEST(SearchedArmTest, TextSaysHowPosturesAreComeBy) {
  EXPECT_THAT(PosturesText(support::SampleArm()), HasSubstr("in closed form"));
  EXPECT_THAT(PosturesText(support::ThreeParallelArm()), HasSubstr("searched"));
  EXPECT_THAT(PosturesText(support::ThreeParallelArm()), Not(HasSubstr(" 0 of")));
}

}  // namespace
}  // namespace aircut::verify
