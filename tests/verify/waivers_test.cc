#include "verify/waivers.h"

#include <gtest/gtest.h>

#include "tests/support/made_report.h"

namespace aircut::verify {
namespace {

using State = WaiverOutcome::State;

sim::Waiver Line(const char* check, const char* until) { return {check, "A. Writer", "one piece only", *sim::DayOf(until), 3}; }

State StateOn(const char* check, const char* until, const char* today) {
  return JudgeWaivers({Line(check, until)}, support::MadeChecks(), today).front().state;
}

// Oracle: the rule: until the end of the day named, on both sides of it.
TEST(WaiversTest, CountsToTheEndOfItsLastDay) {
  EXPECT_EQ(StateOn("gouge", "2026-12-31", "2026-12-30"), State::kCounts);
  EXPECT_EQ(StateOn("gouge", "2026-12-31", "2026-12-31"), State::kCounts);
  EXPECT_EQ(StateOn("gouge", "2026-12-31", "2027-01-01"), State::kExpired);
  EXPECT_EQ(StateOn("gouge", "2026-09-30", "2026-10-01"), State::kExpired);
}

// Nothing counts on a day that nobody knows, nor for what passes, nor for a contact.
TEST(WaiversTest, NothingElseCounts) {
  EXPECT_EQ(StateOn("gouge", "2026-12-31", ""), State::kExpired);
  EXPECT_EQ(StateOn("joint-range", "2026-12-31", "2026-12-30"), State::kIdle);
  EXPECT_NE(StateOn("clash", "2026-12-31", "2026-12-30"), State::kCounts);
}

// Oracle: the mark is a key of its own, all else stays.
TEST(WaiversTest, MarkChangesNothingButTheMark) {
  std::vector<CheckResult> checks = support::MadeChecks();
  const std::vector<CheckResult> before = checks;
  MarkWaived(JudgeWaivers({Line("gouge", "2026-12-31")}, checks, "2026-12-01"), &checks);
  for (std::size_t i = 0; i < checks.size(); ++i) {
    EXPECT_EQ(checks[i].waived, checks[i].id == "gouge") << checks[i].id;
    EXPECT_EQ(checks[i].result, before[i].result);
    EXPECT_EQ(checks[i].findings.size(), before[i].findings.size());
  }
  const sim::Job job;
  EXPECT_EQ(Judge(job, checks).result, Judge(job, before).result);
  EXPECT_EQ(Judge(job, checks).headline, Judge(job, before).headline);
}

// Oracle: the Gregorian calendar.
TEST(WaiversTest, DaysAreThoseOfTheCalendar) {
  for (const char* good : {"2024-02-29", "2000-02-29", "2026-12-31", "0001-01-01"}) EXPECT_TRUE(sim::DayOf(good)) << good;
  for (const char* bad : {"2026-02-29", "1900-02-29", "2026-13-01", "2026-00-10", "2026-04-31", "2026-1-01", "26-01-01", "", "2026-01-0x",
                          "2026/01/01", "-026-01-01", "2026-01-00"}) {
    EXPECT_FALSE(sim::DayOf(bad)) << bad;
  }
}

}  // namespace
}  // namespace aircut::verify
