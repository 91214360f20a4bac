#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::HasSubstr;

// Oracle: the groove of the small job is as deep as its design says, in reach,
// clear of everything, and the touched points lie on the block: all that it
// requires holds.
TEST(DryRunTest, GoodJobPassesAndLeavesItsReport) {
  const TempFolder folder;
  const Outcome outcome = RunAircut("dryrun " + TinyJob().WriteTo(folder) + " --quiet");
  EXPECT_EQ(outcome.code, 0) << outcome.out << outcome.err;
  EXPECT_EQ(outcome.err, "");
  EXPECT_THAT(outcome.out, HasSubstr("This is not leave to run"));
  EXPECT_THAT(outcome.out, HasSubstr("report-tiny/report.html"));
  for (const char* name : {"report.json", "report.html", "carved.ply"}) {
    EXPECT_TRUE(std::filesystem::exists(folder.path() / "report-tiny" / name)) << name;
  }
}

// Oracle: the path lies 1 mm below the stock; a design of 0.5 mm is cut 0.5 mm
// too deep, beyond the 0.2 mm accepted.
TEST(DryRunTest, GrooveTwiceAsDeepAsDesignedFails) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.5");
  const Outcome outcome = RunAircut("dryrun " + tiny.WriteTo(folder) + " --quiet");
  EXPECT_EQ(outcome.code, 1) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, testing::AnyOf(HasSubstr("gouge"), HasSubstr("depth")));
}

// Oracle: without touched points nothing says where the piece lies, and the job
// requires to know.
TEST(DryRunTest, RequiredPremiseWithoutSecondSourceIsUnproven) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "  touched: touched.csv\n", "");
  const Outcome outcome = RunAircut("dryrun " + tiny.WriteTo(folder) + " --quiet");
  EXPECT_EQ(outcome.code, 3) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("piece-located"));
}

// Oracle: the text on the screen is the text of the file.
TEST(DryRunTest, JsonOnTheScreenIsTheReportFile) {
  const TempFolder folder;
  const std::string job = TinyJob().WriteTo(folder);
  const Outcome outcome =
      RunAircut("dryrun " + job + " --quiet --json --threads 1 --out " + (folder.path() / "mine").string());
  EXPECT_THAT(outcome.out, HasSubstr("\"aircut/report/1\""));
  EXPECT_EQ(outcome.out, TextOf(folder.path() / "mine" / "report.json"));
  EXPECT_FALSE(std::filesystem::exists(folder.path() / "report-tiny"));
}

// Without a terminal progress is whole lines on stderr, none that overwrite.
TEST(DryRunTest, ProgressInALogIsPlainLines) {
  const TempFolder folder;
  const Outcome outcome = RunAircut("dryrun " + TinyJob().WriteTo(folder));
  EXPECT_THAT(outcome.err, HasSubstr("aircut: read the files\n"));
  EXPECT_THAT(outcome.err, testing::Not(HasSubstr("\r")));
}

}  // namespace
}  // namespace aircut::test
