#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/checks.h"

namespace aircut::verify {
namespace {

using sim::BodyKind;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

// Bodies: cutter, clamp, link. The cutter passes the clamp at 4 mm, the link it
// at 1 mm.
MadeRun Clamped(double clearance_mm) {
  MadeRun made = MakeRun();
  sim::Cell& cell = made.job.cell;
  cell.fixture = cell.clamps_said = sim::Declared::kGiven;
  sim::Clamp clamp;
  clamp.body_S = {sim::BoxShape{{-10, 0, 0}, {0, 10, 10}}};
  cell.clamps = {clamp};
  made.run.body_kinds = {BodyKind::kCutter, BodyKind::kClamp, BodyKind::kLink};
  sim::PairClearance pair = made.run.clearances[0];
  pair.clearance_mm = clearance_mm;
  pair.bound_mm = 0.05;
  sim::PairClearance link = pair;
  link.a = 1;
  link.b = 2;
  link.clearance_mm = 1.0;
  made.run.clearances = {pair, link};
  return made;
}

// Oracle: 3 mm by default; domain notes A21.
TEST(ClampZoneTest, OnlyTheCutterAndItsHolderCount) {
  const CheckResult r = Check(Clamped(4.0), CheckClampZone);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_DOUBLE_EQ(*r.worst, 4.0);
  EXPECT_DOUBLE_EQ(*r.limit, 3.0);
  EXPECT_TRUE(r.assumed);
}

TEST(ClampZoneTest, NearerThanTheLimitFailsAndWithinTheBoundIsOpen) {
  CheckResult r = Check(Clamped(2.0), CheckClampZone);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("come within 2.00 mm"));
  EXPECT_EQ(Check(Clamped(3.02), CheckClampZone).result, Result::kUnproven);
}

TEST(ClampZoneTest, ClampWithoutABodyIsUnproven) {
  MadeRun made = Clamped(4.0);
  made.job.cell.clamps[0].body_S.clear();
  const CheckResult r = Check(made, CheckClampZone);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("fixture.clamps[1]"));
}

TEST(ClampZoneTest, SilenceIsUnprovenAndNoneIsAnAnswer) {
  MadeRun made = Clamped(4.0);
  made.run.clearances.erase(made.run.clearances.begin());
  made.job.cell.clamps.clear();
  made.job.cell.clamps_said = sim::Declared::kUnsaid;
  EXPECT_EQ(Check(made, CheckClampZone).result, Result::kUnproven);
  made.job.cell.fixture = sim::Declared::kNone;
  const CheckResult r = Check(made, CheckClampZone);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
}

}  // namespace
}  // namespace aircut::verify
