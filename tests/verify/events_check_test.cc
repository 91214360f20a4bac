#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/checks.h"
#include "verify/run_up.h"

namespace aircut::verify {
namespace {

using sim::PathEvent;
using sim::PathEventKind;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

PathEvent Event(PathEventKind kind, int before, double value) {
  PathEvent event;
  event.kind = kind;
  event.line = before + 2;   // the made path starts at line 2
  event.before = before;
  event.value = value;
  return event;
}

// The made run follows its written path, one sweep a line: line 2 in the air,
// lines 3 to 12 cut with 25 mm/s. Its spindle is ordered before line 2.
MadeRun Ordered(double dwell_s) {
  MadeRun made = MakeRun();
  made.job.cell.run_up_s = 3.0;
  made.job.events = {Event(PathEventKind::kTool, 0, 1), Event(PathEventKind::kSpindle, 0, 18000),
                     Event(PathEventKind::kDwell, 1, dwell_s)};
  return made;
}

// Oracle: one dwell and no cut in the air before the first contact, which is on
// the way to line 3; so the dwell is all the time there is.
TEST(EventsCheckTest, DwellAsLongAsTheRunUpPasses) {
  const CheckResult r = Check(Ordered(3.5), CheckEvents);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_DOUBLE_EQ(*r.worst, 3.5);
  EXPECT_DOUBLE_EQ(*r.limit, 3.0);
  EXPECT_FALSE(r.assumed);
}

TEST(EventsCheckTest, DwellShorterThanTheRunUpFailsAtTheFirstContact) {
  const CheckResult r = Check(Ordered(2.5), CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_EQ(r.findings[0].line, 3);
  EXPECT_DOUBLE_EQ(r.findings[0].value, 2.5);
  EXPECT_THAT(r.findings[0].text, HasSubstr("18,000 rpm at line 2"));
}

// Oracle: the band of 2 to 5 s: holds at its bad end, fails at its good end, or
// is open and names the key.
TEST(EventsCheckTest, UnstatedRunUpIsTakenAtTheBadEndOfItsBand) {
  const struct { double dwell_s; Result result; } rows[] = {
      {5.5, Result::kPass}, {4.0, Result::kUnproven}, {1.5, Result::kFail}};
  for (const auto& row : rows) {
    MadeRun made = Ordered(row.dwell_s);
    made.job.cell.run_up_s.reset();
    const CheckResult r = Check(made, CheckEvents);
    EXPECT_EQ(r.result, row.result) << row.dwell_s << ": " << r.why;
    EXPECT_TRUE(r.assumed);
    if (row.result == Result::kPass) {
      EXPECT_THAT(r.why, HasSubstr("assumed worst of 2 to 5 s"));
    }
    if (row.result == Result::kUnproven) {
      EXPECT_THAT(r.needs.at(0), HasSubstr("spindle.run_up_s"));
    }
  }
}

// Oracle: a dwell that comes before the order is no time to run up in.
TEST(EventsCheckTest, DwellBeforeTheOrderDoesNotCount) {
  MadeRun made = Ordered(3.5);
  std::swap(made.job.events[1], made.job.events[2]);
  made.job.events[1].before = 0;
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kFail);
}

// Oracle: from 12,000 to 18,000 rpm the spindle gains a third of its speed, so it
// needs a third of 3 s; before line 7 there is no time at all but the move.
TEST(RunUpTest, RiseOfSpeedNeedsItsShare) {
  MadeRun made = Ordered(3.5);
  made.job.events[1].value = 12000;
  made.job.events.push_back(Event(PathEventKind::kSpindle, 5, 18000));
  const Deviation deviation = Measure(made.job, made.run);
  const std::vector<RunUp> run_ups = RunUpsOf({made.job, made.run, deviation});
  ASSERT_EQ(run_ups.size(), 2u);
  EXPECT_DOUBLE_EQ(run_ups[0].share, 1.0);
  EXPECT_DOUBLE_EQ(run_ups[1].share, 1.0 / 3.0);
  EXPECT_DOUBLE_EQ(run_ups[1].available_s, 0.0);
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kFail);
}

// Oracle: 2 mm at 25 mm/s between line 4's end and line 5's contact, if line 4
// itself cuts air: the feed of a cut is time that surely passes.
TEST(RunUpTest, CutsInTheAirCountByTheirFeed) {
  MadeRun made = Ordered(0.0);
  for (std::size_t sweep = 0; sweep < 4; ++sweep) made.run.cut.contact.sweeps[sweep] = {};
  const Deviation deviation = Measure(made.job, made.run);
  const std::vector<RunUp> run_ups = RunUpsOf({made.job, made.run, deviation});
  ASSERT_EQ(run_ups.size(), 1u);
  double path_mm = 0.0;
  for (int i = 1; i < 4; ++i) path_mm += (made.job.path[i].p_ST - made.job.path[i - 1].p_ST).norm();
  EXPECT_NEAR(run_ups[0].available_s, path_mm / 25.0, 1e-12);
}

std::vector<RunUp> RunUpsIn(const MadeRun& made) {
  const Deviation deviation = Measure(made.job, made.run);
  return RunUpsOf({made.job, made.run, deviation});
}

// Oracle: line 3, in the air before the first contact, takes its written 1.5 s,
// also as a turn on the spot, whose feed of 1 mm/s stands in for none.
TEST(RunUpTest, WrittenDurationCountsAndNotItsStandInFeed) {
  MadeRun made = Ordered(0.0);
  for (std::size_t sweep = 0; sweep < 2; ++sweep) made.run.cut.contact.sweeps[sweep] = {};
  kinematics::PathLine& line = made.job.path[1];
  line.feed_mm_s = 1.0;
  line.duration_s = 1.5;
  ASSERT_EQ(RunUpsIn(made).size(), 1u);
  EXPECT_DOUBLE_EQ(RunUpsIn(made)[0].available_s, 1.5);   // not 11 mm at 1 mm/s
  line.p_ST = made.job.path[0].p_ST;
  line.axis_S = {0.6, 0, 0.8};
  EXPECT_DOUBLE_EQ(RunUpsIn(made)[0].available_s, 1.5);   // not 0 mm at 1 mm/s
}

// Oracle: a cutter is put in with the spindle standing still, so the same speed
// ordered after it is a start from rest, here in the midst of the cut.
TEST(RunUpTest, SameSpeedAfterAToolChangeIsAStartFromRest) {
  MadeRun made = Ordered(3.5);
  made.job.cell.cutters.emplace(2, support::MadeCutter());
  made.job.events.push_back(Event(PathEventKind::kTool, 5, 2));
  made.job.events.push_back(Event(PathEventKind::kSpindle, 5, 18000));
  made.job.events.push_back(Event(PathEventKind::kDwell, 5, 1.0));
  const std::vector<RunUp> run_ups = RunUpsIn(made);
  ASSERT_EQ(run_ups.size(), 2u);
  EXPECT_EQ(run_ups[1].line, 7);
  EXPECT_DOUBLE_EQ(run_ups[1].from_rpm, 0.0);
  EXPECT_DOUBLE_EQ(run_ups[1].share, 1.0);
  EXPECT_DOUBLE_EQ(run_ups[1].available_s, 1.0);
}

// Oracle: the same before the first contact: the program starts the spindle, puts
// in its first cutter, and starts it anew; only the time after that counts.
TEST(EventsCheckTest, StartBeforeTheFirstCutterIsPutInDoesNotCount) {
  MadeRun made = Ordered(0.0);
  made.job.events = {Event(PathEventKind::kSpindle, 0, 18000), Event(PathEventKind::kDwell, 0, 9.0),
                     Event(PathEventKind::kTool, 0, 1), Event(PathEventKind::kSpindle, 0, 18000),
                     Event(PathEventKind::kDwell, 1, 1.0)};
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_DOUBLE_EQ(*r.worst, 1.0);
}

TEST(RunUpTest, SameSpeedOrderedAgainIsNoChange) {
  MadeRun made = Ordered(3.5);
  made.job.events.push_back(Event(PathEventKind::kSpindle, 5, 18000));
  const std::vector<RunUp> run_ups = RunUpsIn(made);
  ASSERT_EQ(run_ups.size(), 1u);
  EXPECT_DOUBLE_EQ(run_ups[0].available_s, 3.5);
}

// Oracle: a contact that only may be, within the error of the bite, on the way to
// line 2 leaves no time for the run-up; it cannot pass and is no sure fault.
TEST(EventsCheckTest, ContactThatMayBeLeavesTheRunUpOpen) {
  MadeRun made = Ordered(3.5);
  made.run.cut.contact.sweeps[0].bite_bound_mm = 0.2f;
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kUnproven) << r.why;
  made.run.cut.contact.sweeps[0].bite_bound_mm = 0.04f;   // too little to count
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kPass);
}

TEST(EventsCheckTest, PathThatNeverStartsTheSpindleFails) {
  MadeRun made = Ordered(3.5);
  made.job.events.erase(made.job.events.begin() + 1);
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).cause, HasSubstr("switched: outside"));
}

TEST(EventsCheckTest, SpindleSwitchedOutsideIsALineToSign) {
  MadeRun made = MakeRun();
  made.job.cell.switched = sim::SpindleSwitch::kOutside;
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_THAT(r.why, HasSubstr("lines to sign"));
  const Verdict v = Judge(made.job, {r});
  EXPECT_THAT(v.to_sign, testing::Contains(
                             HasSubstr("cutter 1 turns clockwise (seen from the spindle) at 18,000 rpm")));
}

TEST(EventsCheckTest, WrongWayAndTooFastAreSaidFromTheLineOn) {
  MadeRun made = Ordered(3.5);
  for (kinematics::PathLine& line : made.job.path) line.spindle_rpm = -25000.0;
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 3u);   // direction, spindle's range, cutter's limit
  EXPECT_EQ(r.findings[0].line, 2);
  EXPECT_THAT(r.findings[0].text, HasSubstr("anticlockwise"));
  EXPECT_THAT(r.findings[1].text, HasSubstr("25,000"));
  EXPECT_THAT(r.findings[2].text, HasSubstr("its limit is 24,000"));
}

// Another cutter before line 13, at (60, 58, 10): 10 mm above the board.
MadeRun Changed() {
  MadeRun made = Ordered(3.5);
  made.job.cell.cutters.emplace(2, support::MadeCutter());
  made.job.events.push_back(Event(PathEventKind::kSpindle, 11, 0));
  made.job.events.push_back(Event(PathEventKind::kTool, 11, 2));
  made.job.path[10].p_ST.z() = 30.0;   // the last cut ends high above the board
  return made;
}

TEST(EventsCheckTest, ChangeWithTheSpindleStoppedAndClearPasses) {
  const CheckResult r = Check(Changed(), CheckEvents);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
}

TEST(EventsCheckTest, ChangeWhileTheSpindleTurnsFails) {
  MadeRun made = Changed();
  std::swap(made.job.events[3], made.job.events[4]);
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("cutter 2 is put in while the spindle turns"));
}

// Oracle: in a program the first M06 is a hand in the collet as well.
TEST(EventsCheckTest, FirstCutterPutInWhileTheSpindleTurnsFailsInAProgram) {
  MadeRun made = Ordered(3.5);
  std::swap(made.job.events[0], made.job.events[1]);
  made.job.events.push_back(Event(PathEventKind::kSpindle, 0, 0));
  std::rotate(made.job.events.begin() + 2, made.job.events.end() - 1, made.job.events.end());
  made.job.events.insert(made.job.events.begin() + 3, Event(PathEventKind::kSpindle, 0, 18000));
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kPass);
  made.job.path_format = "iso6983";
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("cutter 1 is put in while the spindle turns"));
}

// Oracle: 19 mm above the board is nearer than 20 mm, 21 mm is not.
TEST(EventsCheckTest, ChangeNearThePieceFails) {
  MadeRun made = Changed();
  made.job.path[10].p_ST.z() = 19.0;
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("19.0 mm from the piece"));
  made.job.path[10].p_ST.z() = 21.0;
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kPass);
  made.job.path[10].p_ST.z() = 19.0;
  made.job.tool_change = {kinematics::JointVector::Zero(6)};   // changed somewhere else
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kPass);
}

TEST(EventsCheckTest, StopInTheCutFailsAndInTheAirDoesNot) {
  MadeRun made = Ordered(3.5);
  made.job.events.push_back(Event(PathEventKind::kStop, 6, 0));
  const CheckResult r = Check(made, CheckEvents);
  EXPECT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("line 8: the program stops with the cutter in the material"));
  made.job.events.back() = Event(PathEventKind::kOptionalStop, 12, 0);
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kPass);
}

TEST(EventsCheckTest, CoolantThatComesTooLateFailsAndNoneAtAllIsFine) {
  MadeRun made = Ordered(3.5);
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kPass);
  made.job.events.push_back(Event(PathEventKind::kCoolant, 4, 1));
  const CheckResult late = Check(made, CheckEvents);
  EXPECT_EQ(late.result, Result::kFail);
  EXPECT_EQ(late.findings.at(0).line, 3);
  made.job.events.back().before = 1;
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kPass);
}

TEST(EventsCheckTest, WithoutAContactRecordItIsUnproven) {
  MadeRun made = Ordered(3.5);
  made.run.cut.contact.sweeps.clear();
  EXPECT_EQ(Check(made, CheckEvents).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
