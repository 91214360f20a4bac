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

sim::PairClearance Pair(double clearance_mm, double bound_mm) {
  sim::PairClearance pair = MakeRun().run.clearances[0];
  pair.clearance_mm = clearance_mm;
  pair.bound_mm = bound_mm;
  return pair;
}

struct Case {
  double clearance_mm, bound_mm;
  Result clash, clearance;
};

// Oracle: the true smallest distance lies between clearance - bound and
// clearance (+ 0.01 mm of the measurement); the limit of clearance is 5 mm.
TEST(ClashTest, TableOfDistancesHolds) {
  const Case cases[] = {
      {20.0, 0.05, Result::kPass, Result::kPass},
      {5.05, 0.05, Result::kPass, Result::kPass},
      {5.02, 0.05, Result::kPass, Result::kUnproven},
      {4.98, 0.05, Result::kPass, Result::kFail},
      {0.06, 0.05, Result::kPass, Result::kFail},
      {0.05, 0.05, Result::kUnproven, Result::kFail},   // may just touch
      {0.0, 0.0, Result::kFail, Result::kFail},         // touching is a clash
      {-3.0, 0.05, Result::kFail, Result::kFail},
      {-3.0, 10.0, Result::kFail, Result::kFail},       // found overlapping: sure
  };
  for (const Case& c : cases) {
    MadeRun made = MakeRun();
    made.job.cell.fit.clear();   // a fitted frame would add its own error
    made.run.clearances = {Pair(c.clearance_mm, c.bound_mm), Pair(100.0, 0.05)};
    EXPECT_EQ(Check(made, CheckClash).result, c.clash) << c.clearance_mm;
    EXPECT_EQ(Check(made, CheckClearance).result, c.clearance) << c.clearance_mm;
  }
}

TEST(ClashTest, EveryClashingPairIsAFindingWithLineTimeAndPlace) {
  MadeRun made = MakeRun();
  made.run.X_WS_actual = kinematics::Pose(Eigen::Translation3d(0, 0, 40));
  made.run.clearances = {Pair(-1.0, 0.05), Pair(30.0, 0.05), Pair(-4.0, 0.05)};
  const CheckResult r = Check(made, CheckClash);
  ASSERT_EQ(r.findings.size(), 2u);
  EXPECT_EQ(r.findings[0].value, -4.0);
  EXPECT_EQ(r.findings[0].line, 5);
  EXPECT_EQ(r.findings[0].time_s, 4.0);
  EXPECT_EQ(*r.findings[0].at_S, Eigen::Vector3d(0, 0, 20));   // half way from 50 to 70, less 40
  EXPECT_THAT(r.findings[0].text, HasSubstr("would collide at line 5, 0:04"));
}

TEST(ClashTest, ClearanceFindingSaysDistanceAndLimit) {
  MadeRun made = MakeRun();
  made.run.clearances = {Pair(3.8, 0.05)};
  made.job.cell.fit.clear();   // a fitted frame would add its own error
  made.job.accept.clearance_mm = made.job.accept.tool_clearance_mm = {5.0, true};
  const CheckResult r = Check(made, CheckClearance);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].text, HasSubstr("3.80 mm (limit 5.00 mm)"));
  EXPECT_FALSE(r.assumed);
}

TEST(ClashTest, BodiesThatAreNotDescribedLeaveItUnproven) {
  MadeRun made = MakeRun();
  made.job.cell.links.clear();
  EXPECT_THAT(Check(made, CheckClash).needs, testing::Contains("`arm.links`"));
  EXPECT_EQ(Check(made, CheckClash).result, Result::kUnproven);
  EXPECT_EQ(Check(made, CheckClearance).result, Result::kUnproven);
  made.run.clearances = {Pair(-1.0, 0.05)};   // what is found is found
  EXPECT_EQ(Check(made, CheckClash).result, Result::kFail);
}

TEST(ClashTest, NoSurroundingsAreUnprovenButAFloorAloneIsEnough) {
  MadeRun made = MakeRun();
  made.job.cell.fixture_S.clear();
  EXPECT_EQ(Check(made, CheckClash).result, Result::kPass);   // there is a floor
  made.job.cell.floor_z_mm.reset();
  EXPECT_EQ(Check(made, CheckClash).result, Result::kUnproven);
}

// Oracle: the design, section 5: `none` is an answer, silence is not.
TEST(ClashTest, BodiesSaidToBeAbsentAreNotAskedFor) {
  using sim::Declared;
  MadeRun made = MakeRun();
  made.job.cell.housing_shapes_H.clear();
  EXPECT_THAT(Check(made, CheckClash).needs, testing::ElementsAre("`spindle.housing`"));
  made.job.cell.housing = Declared::kNone;
  EXPECT_EQ(Check(made, CheckClash).result, Result::kPass);
  EXPECT_EQ(Check(made, CheckClearance).result, Result::kPass);
  made.job.cell.fixture_S.clear();
  made.job.cell.floor_z_mm.reset();
  made.job.cell.fixture = made.job.cell.obstacles = made.job.cell.floor = Declared::kNone;
  EXPECT_EQ(Check(made, CheckClash).result, Result::kPass);
  for (Declared* said : {&made.job.cell.fixture, &made.job.cell.obstacles, &made.job.cell.floor}) {
    *said = Declared::kUnsaid;
    EXPECT_EQ(Check(made, CheckClash).result, Result::kUnproven);
    EXPECT_EQ(Check(made, CheckClearance).result, Result::kUnproven);
    *said = Declared::kNone;
  }
}

TEST(ClashTest, NoPairsOrNoMotionOrNoNumberIsUnproven) {
  MadeRun made = MakeRun();
  made.run.clearances.clear();
  EXPECT_EQ(Check(made, CheckClash).result, Result::kUnproven);
  EXPECT_EQ(Check(made, CheckClearance).result, Result::kUnproven);
  const double nan = std::numeric_limits<double>::quiet_NaN();
  for (const sim::PairClearance& pair : {Pair(nan, 0.05), Pair(20.0, nan)}) {
    made.run.clearances = {Pair(20.0, 0.05), pair, Pair(25.0, 0.05)};
    EXPECT_EQ(Check(made, CheckClash).result, Result::kUnproven);
    EXPECT_EQ(Check(made, CheckClearance).result, Result::kUnproven);
  }
  support::BreakMotion(&made, kinematics::PlanFaultKind::kOutOfReach);
  EXPECT_EQ(Check(made, CheckClash).result, Result::kUnproven);
}

TEST(ClashTest, BodiesAreCalledByTheirNames) {
  MadeRun made = MakeRun();
  made.run.world.emplace(std::vector<sim::Body>{
      {"forearm", {sim::BoxShape{{0, 0, 0}, {1, 1, 1}}}},
      {"fence", {sim::BoxShape{{0, 0, 0}, {1, 1, 1}}}}});
  made.run.clearances = {Pair(-1.0, 0.05)};
  EXPECT_THAT(Check(made, CheckClash).findings[0].text,
              HasSubstr("forearm and fence would collide"));
}

sim::ClosePass Pass(double from_s, double to_s, double clearance_mm) {
  sim::ClosePass pass;
  pass.from_s = from_s;
  pass.to_s = to_s;
  pass.first_line = static_cast<int>(from_s) + 2;
  pass.last_line = static_cast<int>(to_s) + 2;
  pass.nearest.clearance_mm = clearance_mm;
  pass.nearest.time_s = 0.5 * (from_s + to_s);
  pass.nearest.line = pass.first_line;
  pass.nearest.p_WA = {1, 2, 3};
  pass.nearest.p_WB = {1, 2, 7};
  return pass;
}

// Definition: every passing of a pair that is surely too near is a finding of its own;
// one that may only be so is none.
TEST(ClashTest, EverySeparatePassingIsAFinding) {
  MadeRun made = MakeRun();
  made.run.X_WS_actual = kinematics::Pose::Identity();
  sim::PairClearance pair = Pair(-2.0, 0.05);
  pair.clashes = {Pass(1.0, 3.0, -1.0), Pass(5.0, 5.5, -2.0), Pass(7.0, 7.1, 0.01)};
  pair.close = {Pass(0.5, 6.0, -2.0), Pass(7.0, 8.0, 0.01)};
  made.run.clearances = {pair};
  const CheckResult clash = Check(made, CheckClash);
  ASSERT_EQ(clash.findings.size(), 2u);
  EXPECT_EQ(clash.findings[0].value, -2.0);
  EXPECT_EQ(*clash.findings[1].time_s, 2.0);
  EXPECT_THAT(clash.findings[1].text, HasSubstr("It lasts from line 3 to line 5."));
  const CheckResult clearance = Check(made, CheckClearance);
  ASSERT_EQ(clearance.findings.size(), 2u);
  EXPECT_THAT(clearance.findings[1].text, HasSubstr("between (1.0, 2.0, 3.0) mm and (1.0, 2.0, 7.0) mm"));
}

TEST(ClashTest, AClashOfTheStartPoseSaysSo) {
  MadeRun made = MakeRun();
  sim::PairClearance pair = Pair(-2.0, 0.05);
  const double start_s = made.run.motion.tracks.front().time_s.front();
  pair.clashes = {Pass(start_s, start_s + 1.0, -2.0)};
  made.run.clearances = {pair};
  EXPECT_THAT(Check(made, CheckClash).findings.at(0).text, HasSubstr("It begins in the start pose"));
}

// Near the tool the job may ask for another distance than of links.
TEST(ClashTest, ToolAndLinksHaveLimitsOfTheirOwn) {
  MadeRun made = MakeRun();
  made.job.cell.fit.clear();   // a fitted frame would add its own error
  made.job.accept.clearance_mm = {20.0, true};
  made.job.accept.tool_clearance_mm = {4.0, true};
  sim::PairClearance tool = Pair(10.0, 0.05), link = Pair(30.0, 0.05);
  link.a = 2;
  made.run.body_kinds = {sim::BodyKind::kCutter, sim::BodyKind::kFixture, sim::BodyKind::kLink};
  made.run.clearances = {tool, link};
  EXPECT_EQ(Check(made, CheckClearance).result, Result::kPass);
  made.run.clearances[1].clearance_mm = 19.0;
  const CheckResult r = Check(made, CheckClearance);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings.size(), 1u);
  EXPECT_DOUBLE_EQ(*r.limit, 20.0);
}

// What the cell excludes is told wherever nothing else is.
TEST(ClashTest, PairsThatNeverMeetAreNamed) {
  MadeRun made = MakeRun();
  made.job.cell.never_meet = {{"link 2", "link 4"}};
  EXPECT_THAT(Check(made, CheckClash).why, HasSubstr("Not looked at, as the cell says: link 2 and link 4."));
}

}  // namespace
}  // namespace aircut::verify
