#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::HasSubstr;

std::string ReportOf(const TempFolder& folder, const TinyJob& job) {
  job.WriteTo(folder);
  const std::string out = (folder.path() / "report").string();
  RunAircut("dryrun " + (folder.path() / "tiny.job.yaml").string() + " --quiet --out " + out);
  return out;
}

// Oracle: a changed input. Half the depth asked for makes the same cut half a millimetre
// too deep; back again, the same findings are gone.
TEST(CompareVerbTest, GougeThatANewDesignMakesIsNewAndThenGone) {
  const TempFolder first, second;
  const std::string good = ReportOf(first, TinyJob());
  TinyJob shallow;
  shallow.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.5");
  const std::string bad = ReportOf(second, shallow);
  const Outcome worse = RunAircut("compare " + good + " " + bad);
  EXPECT_EQ(worse.code, 1) << worse.err;
  EXPECT_THAT(worse.out, HasSubstr("gouge            pass -> fail  worse\n"));
  EXPECT_THAT(worse.out, HasSubstr("  new   gouge            The piece would be cut 0.50 mm too deep"));
  EXPECT_THAT(worse.out, testing::ContainsRegex("max_gouge_mm     [^ ]+ -> 0\\.5[^ ]*  worse"));
  EXPECT_THAT(worse.out, HasSubstr("Something got worse."));
  const Outcome back = RunAircut("compare " + bad + " " + good);
  EXPECT_THAT(back.out, HasSubstr("gouge            fail -> pass\n"));
  EXPECT_THAT(back.out, HasSubstr("  gone  gouge"));
  // The right depth leaves ridges of 0.04 mm where the deep cut left nothing: that is told.
  EXPECT_EQ(back.code, 1);
  EXPECT_THAT(back.out, HasSubstr("max_leftover_mm  0 -> 0.03"));
}

// Nearly: the same job twice, faults and all, is no worse than itself.
TEST(CompareVerbTest, SameReportHasNothingNew) {
  const TempFolder folder;
  TinyJob shallow;
  shallow.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.5");
  const std::string report = ReportOf(folder, shallow);
  const Outcome same = RunAircut("compare " + report + " " + report);
  EXPECT_EQ(same.code, 0) << same.out;
  EXPECT_THAT(same.out, HasSubstr("Findings: 0 new, 0 gone, "));
  EXPECT_THAT(same.out, HasSubstr("Numbers that changed: 0.\nNothing got worse."));
}

TEST(CompareVerbTest, FaultThatGrowsIsWorse) {
  const TempFolder first, second;
  TinyJob shallow, shallower;
  shallow.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.5");
  shallower.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.4");
  const std::string before = ReportOf(first, shallow), after = ReportOf(second, shallower);
  const Outcome grown = RunAircut("compare " + before + " " + after);
  EXPECT_EQ(grown.code, 1) << grown.out;
  EXPECT_THAT(grown.out, HasSubstr("  grown gouge            from 0.5 to 0.6: "));
  const Outcome shrunk = RunAircut("compare " + after + " " + before);
  EXPECT_EQ(shrunk.code, 0) << shrunk.out;
  EXPECT_THAT(shrunk.out, testing::Not(HasSubstr("grown")));
}

void ExpectRefused(const std::string& arguments, const std::string& says) {
  const Outcome outcome = RunAircut("compare " + arguments);
  EXPECT_EQ(outcome.code, 2) << arguments;
  EXPECT_EQ(outcome.out, "");
  EXPECT_THAT(outcome.err, HasSubstr(says));
}

TEST(CompareVerbTest, WhatIsNoReportIsRefusedInASentence) {
  const TempFolder folder;
  const std::string path = folder.path().string();
  const auto write = [&](const std::string& text) { std::ofstream(folder.path() / "report.json") << text; };
  ExpectRefused(path + " " + path, "there is no report.json in it: name a folder that `aircut dryrun` wrote");
  ExpectRefused(path + "/nowhere " + path, path + "/nowhere: there is no report.json");
  write("{\"schema\": \"aircut/rep");
  ExpectRefused(path + " " + path, "is not a whole report of the kind aircut/report/1");
  write("{\"schema\": \"aircut/report/9\"}");
  ExpectRefused(path + " " + path, "is not a whole report of the kind aircut/report/1");
  write("{\"schema\": \"aircut/report/1\", \"verdict\": 3}");
  ExpectRefused(path + " " + path, "a value is missing or of the wrong kind");
  EXPECT_EQ(RunAircut("compare " + path).code, 2);
  EXPECT_THAT(RunAircut("compare --help").out, HasSubstr("aircut compare report-before report-after"));
}

}  // namespace
}  // namespace aircut::test
