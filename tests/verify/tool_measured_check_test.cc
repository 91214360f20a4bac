#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using sim::PathEvent;
using sim::PathEventKind;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

sim::CellCutter& Cutter(MadeRun* made) { return made->job.cell.cutters.at(1); }

TEST(ToolMeasuredCheckTest, MeasuredAsTypedPasses) {
  const CheckResult r = Check(MakeRun(), CheckToolMeasured);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_NEAR(*r.limit, 0.075, 1e-12);   // depth limit 0.3 / 4, domain notes A1
}

// Oracle: default limit 0.075 mm, either side, both ways.
TEST(ToolMeasuredCheckTest, StickOutEitherSideOfTheLimit) {
  for (const double sign : {1.0, -1.0}) {
    MadeRun made = MakeRun();
    Cutter(&made).measured_stick_out_mm = 40.0 + sign * 0.074;
    EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
    Cutter(&made).measured_stick_out_mm = 40.0 + sign * 0.076;
    const CheckResult r = Check(made, CheckToolMeasured);
    ASSERT_EQ(r.result, Result::kFail);
    EXPECT_THAT(r.findings.at(0).cause, HasSubstr(sign > 0 ? "too deep" : "too shallow"));
  }
}

// Oracle: half of a difference of diameters counts.
TEST(ToolMeasuredCheckTest, DiameterCountsByHalf) {
  MadeRun made = MakeRun();
  Cutter(&made).measured_diameter_mm = 6.0 - 0.148;
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
  Cutter(&made).measured_diameter_mm = 6.0 - 0.152;
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kFail);
  Cutter(&made).measured_diameter_mm = 3.0;   // a radius measured, or the wrong bit
  EXPECT_NEAR(*Check(made, CheckToolMeasured).worst, 1.5, 1e-12);
}

TEST(ToolMeasuredCheckTest, UnmeasuredIsUnprovenNamingCutterAndInstrument) {
  MadeRun made = MakeRun();
  Cutter(&made).measured = false;
  CheckResult r = Check(made, CheckToolMeasured);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("stick-out of cutter 1"));
  ASSERT_EQ(r.needs.size(), 1u);
  EXPECT_THAT(r.needs[0], HasSubstr("cutters.1.measured.stick_out"));
  EXPECT_THAT(r.needs[0], HasSubstr("setter"));
  MadeRun thick = MakeRun();
  Cutter(&thick).measured_diameter_mm.reset();
  r = Check(thick, CheckToolMeasured);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("micrometer"));
  Cutter(&thick).measured_stick_out_mm = 45.0;   // what is known wrong stays wrong
  EXPECT_EQ(Check(thick, CheckToolMeasured).result, Result::kFail);
}

TEST(ToolMeasuredCheckTest, CutterThatThePathDoesNotUseNeedsNoMeasuring) {
  MadeRun made = MakeRun();
  sim::CellCutter spare = support::MadeCutter();
  spare.number = 9;
  spare.measured = false;
  made.job.cell.cutters.emplace(9, spare);
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
  made.job.path.back().tool = 9;
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kUnproven);
  made.job.cell.cutters.erase(9);   // not in the cell at all
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kUnproven);
}

PathEvent Event(PathEventKind kind, int line, int before) {
  PathEvent event;
  event.kind = kind;
  event.line = line;
  event.before = before;
  return event;
}

// Domain notes A51: the path's cutter against the cell's; a radius given for a
// diameter is the classic.
TEST(ToolMeasuredCheckTest, PathMadeForAnotherCutterFailsWithItsLine) {
  MadeRun made = MakeRun();
  PathEvent event = Event(PathEventKind::kCutterShape, 4, 0);
  event.shape = {6.0, 3.0, 0, 3.0, 0, 0, 22.0};
  made.job.events = {event};
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
  made.job.events[0].shape[0] = 3.0;
  CheckResult r = Check(made, CheckToolMeasured);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings.at(0).line, 4);
  EXPECT_THAT(r.findings[0].text, HasSubstr("made for a cutter of 3.00 mm"));
  made.job.events[0].shape = {6.0, 0.0, 3.0, 0, 0, 0, 22.0};   // flat, the cell has a ball
  r = Check(made, CheckToolMeasured);
  ASSERT_EQ(r.result, Result::kFail);
  // The sharp corner at (3, 0) lies 3 sqrt(2) from the ball's centre.
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("lies up to 1.24 mm off"));
  made.job.events[0].shape = {6.0, 0.0, 3.0, 0, 0, 0, 0};   // the same without the height
  r = Check(made, CheckToolMeasured);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("with a corner of 0.00 mm"));
}

// A cone is seen from the seven parameters: the right one passes, another angle
// fails; a statement of the diameter alone does not speak of cones.
TEST(ToolMeasuredCheckTest, StatedOutlinesOfConesAreHeldAgainstTheCells) {
  MadeRun made = MakeRun();
  sim::CellCutter& v = Cutter(&made);
  const double half = std::acos(-1.0) / 6, tip = 0.5, flank_r = tip * std::cos(half), flank_z = tip - tip * std::sin(half);
  const double d_mm = 2 * (flank_r + (8.0 - flank_z) * std::tan(half));
  v.cutter = sim::Cutter::V(2 * half, tip, d_mm, 8.0);
  v.measured_diameter_mm = d_mm;
  PathEvent event = Event(PathEventKind::kCutterShape, 4, 0);
  event.shape = {d_mm, 0, d_mm / 2, 0, 0, 0, 0};
  made.job.events = {event};
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
  // Bottom and flank would meet tip tan((90 - 30) / 2 degrees) from the axis.
  made.job.events[0].shape = {2 * tip * std::tan(half), tip, 0, tip, 0, half, 8.0};
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
  made.job.events[0].shape = {2 * tip * std::tan(std::acos(-1.0) / 8), tip, 0, tip, 0, std::acos(-1.0) / 4, 8.0};
  const CheckResult r = Check(made, CheckToolMeasured);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("outline that the path was made for"));
}

TEST(ToolMeasuredCheckTest, LengthThatThePathStatesIsHeldAgainstTheStickOut) {
  MadeRun made = MakeRun();
  PathEvent event = Event(PathEventKind::kToolLength, 3, 0);
  event.value = 40.05;
  made.job.events = {event};
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
  made.job.events[0].value = 45.0;
  const CheckResult r = Check(made, CheckToolMeasured);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_EQ(r.findings.at(0).line, 3);
  EXPECT_NEAR(r.findings[0].value, 5.0, 1e-12);
}

// A statement speaks of the cutter that comes after it, not of the first one.
TEST(ToolMeasuredCheckTest, StatementBelongsToTheCutterThatFollows) {
  MadeRun made = MakeRun();
  sim::CellCutter small = support::MadeCutter();
  small.number = 2;
  small.cutter = sim::Cutter::Ball(2.0, 8.0);
  small.measured_diameter_mm = 2.0;
  made.job.cell.cutters.emplace(2, small);
  for (std::size_t i = 6; i < made.job.path.size(); ++i) made.job.path[i].tool = 2;
  PathEvent event = Event(PathEventKind::kCutterShape, 9, 6);
  event.shape = {2.0, 1.0, 0, 1.0, 0, 0, 8.0};
  made.job.events = {event};
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kPass);
  made.job.events[0].before = 5;
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kFail);
}

TEST(ToolMeasuredCheckTest, NotANumberNeverPasses) {
  MadeRun made = MakeRun();
  Cutter(&made).measured_stick_out_mm = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Check(made, CheckToolMeasured).result, Result::kUnproven);
  MadeRun diameter = MakeRun();
  Cutter(&diameter).measured_diameter_mm = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Check(diameter, CheckToolMeasured).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
