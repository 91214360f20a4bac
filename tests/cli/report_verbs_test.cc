#include <regex>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using nlohmann::json;
using testing::HasSubstr;

// The small job, half a millimetre too deep, run into a folder.
std::string FailingReport(const TempFolder& folder, const std::string& more = "") {
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.5");
  const std::string out = (folder.path() / "report").string();
  const Outcome run = RunAircut("dryrun " + tiny.WriteTo(folder) + " --quiet --date 2026-11-27 --out " + out + " " + more);
  EXPECT_EQ(run.code, 1) << run.out << run.err;
  return out;
}

json ReportIn(const std::string& folder) { return json::parse(TextOf(folder + "/report.json")); }

// Oracle: the page of the run, byte for byte.
TEST(ReportVerbsTest, PageIsMadeAgain) {
  const TempFolder folder;
  const std::string report = FailingReport(folder);
  const std::string html = TextOf(report + "/report.html");
  std::filesystem::remove(report + "/report.html");
  const Outcome again = RunAircut("report " + report);
  EXPECT_EQ(again.code, 0) << again.err;
  EXPECT_THAT(again.out, HasSubstr("report.html"));
  EXPECT_TRUE(TextOf(report + "/report.html") == html);
  EXPECT_EQ(RunAircut("report " + report + " --quiet").out, "");
}

TEST(ReportVerbsTest, FolderThatIsNoReportIsOneSentence) {
  const TempFolder folder;
  for (const std::string verb : {"report ", "picture "}) {
    const Outcome outcome = RunAircut(verb + folder.path().string() + (verb == "picture " ? " --out " + folder.path().string() + "/a.png" : ""));
    EXPECT_EQ(outcome.code, 2) << verb;
    EXPECT_THAT(outcome.err, HasSubstr("report.json: is missing"));
    EXPECT_EQ(std::count(outcome.err.begin(), outcome.err.end(), '\n'), 1);
  }
}

// Oracle: PNG's header (RFC 2083): sizes stand in bytes 16 to 23, big-endian.
TEST(ReportVerbsTest, PictureOfAFindingHasTheSizeAskedFor) {
  const TempFolder folder;
  const std::string report = FailingReport(folder), file = (folder.path() / "place.png").string();
  int with_place = 0;
  const json told = ReportIn(report);
  for (const json& finding : told["findings"]) {
    if (!finding["at_mm"].is_null()) with_place = finding["number"];
  }
  ASSERT_GT(with_place, 0);
  const std::string call = "picture " + report + " --out " + file + " --width 300 --height 200 --finding ";
  ASSERT_EQ(RunAircut(call + std::to_string(with_place)).code, 0);
  const std::string first = TextOf(file);
  ASSERT_GT(first.size(), 24u);
  EXPECT_EQ(first.substr(1, 3), "PNG");
  EXPECT_EQ(static_cast<unsigned char>(first[18]) * 256 + static_cast<unsigned char>(first[19]), 300);
  EXPECT_EQ(static_cast<unsigned char>(first[22]) * 256 + static_cast<unsigned char>(first[23]), 200);
  RunAircut(call + std::to_string(with_place));
  EXPECT_TRUE(TextOf(file) == first);
  RunAircut(call + std::to_string(with_place) + " --across 5");
  EXPECT_FALSE(TextOf(file) == first);
  const Outcome none = RunAircut(call + "999");
  EXPECT_EQ(none.code, 2);
  EXPECT_THAT(none.err, HasSubstr("it has findings 1 to"));
  EXPECT_EQ(RunAircut("picture " + report + " --out " + file).code, 0);
  EXPECT_EQ(RunAircut("picture " + report + " --out " + file + " --across 5").code, 2);
  EXPECT_EQ(RunAircut("picture " + report + " --out " + file + " --width 0").code, 2);
}

// Oracle: the rule for waivers: the mark is a key of its own; result, exit code and
// junit.xml are those of the same run without it. Over its last day it marks nothing.
TEST(ReportVerbsTest, WaiverChangesTheMarkAndNothingElse) {
  const TempFolder plain_folder, folder;
  const json plain = ReportIn(FailingReport(plain_folder));
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.5");
  tiny.Change("tiny.job.yaml", "depth_along:", "waivers: waivers.yaml\ndepth_along:");
  tiny.files["waivers.yaml"] = "aircut: waivers/1\nwaivers:\n  - {check: gouge, who: \"A. Writer\", why: \"sanded by hand\", until: 2026-11-27}\n";
  const std::string job = tiny.WriteTo(folder), out = (folder.path() / "report").string();
  const auto run = [&](const char* day) {
    const Outcome outcome = RunAircut("dryrun " + job + " --quiet --out " + out + " --date " + day);
    EXPECT_EQ(outcome.code, 1) << outcome.err;
    return ReportIn(out);
  };
  const json waived = run("2026-11-27");
  EXPECT_EQ(waived["waivers"][0]["state"], "counts");
  EXPECT_EQ(waived["run"]["date"], "2026-11-27");
  EXPECT_EQ(waived["run"]["date_from"], "given");
  EXPECT_EQ(waived["verdict"], plain["verdict"]);
  for (std::size_t i = 0; i < waived["checks"].size(); ++i) {
    json check = waived["checks"][i];
    EXPECT_EQ(check["waived"], check["id"] == "gouge");
    check["waived"] = false;
    EXPECT_EQ(check, plain["checks"][i]);
  }
  EXPECT_THAT(TextOf(out + "/junit.xml"), HasSubstr("name=\"gouge\"><failure"));
  const json over = run("2026-11-28");
  EXPECT_EQ(over["waivers"][0]["state"], "expired");
  for (const json& check : over["checks"]) EXPECT_EQ(check["waived"], false);
}

TEST(ReportVerbsTest, DayThatIsNoneIsRefused) {
  const TempFolder folder;
  const Outcome outcome = RunAircut("dryrun " + TinyJob().WriteTo(folder) + " --date 2026-02-30");
  EXPECT_EQ(outcome.code, 2);
  EXPECT_THAT(outcome.err, HasSubstr("--date = 2026-02-30 is no day of the calendar"));
}

// Oracle: the same run against itself: nothing is new and nothing gone.
TEST(ReportVerbsTest, BaselineMarksFindings) {
  const TempFolder first, second;
  const std::string before = FailingReport(first), after = FailingReport(second, "--baseline " + before);
  const json report = ReportIn(after);
  ASSERT_FALSE(report["findings"].empty());
  for (const json& finding : report["findings"]) EXPECT_EQ(finding["since"], "unchanged");
  EXPECT_TRUE(report["baseline"]["gone"].empty());
  EXPECT_EQ(report["baseline"]["verdict"], "fail");
  const TempFolder good;
  const Outcome mended = RunAircut("dryrun " + TinyJob().WriteTo(good) + " --quiet --baseline " + before);
  EXPECT_EQ(mended.code, 0);
  EXPECT_THAT(mended.out, testing::ContainsRegex("Against .*: 0 findings new, 0 grown, [0-9]+ unchanged, [1-9][0-9]* gone"));
  EXPECT_EQ(RunAircut("dryrun " + (good.path() / "tiny.job.yaml").string() + " --baseline /nowhere").code, 2);
}

// Oracle: what compare prints, on a page that loads nothing; JSON that can be read.
TEST(ReportVerbsTest, DifferencesAsAPageAndAsJson) {
  const TempFolder first, second;
  const std::string bad = FailingReport(first), page = (first.path() / "differences.html").string();
  TinyJob().WriteTo(second);
  const std::string good = (second.path() / "report").string();
  RunAircut("dryrun " + (second.path() / "tiny.job.yaml").string() + " --quiet --out " + good);
  const Outcome outcome = RunAircut("compare " + good + " " + bad + " --page " + page + " --json");
  EXPECT_EQ(outcome.code, 1) << outcome.err;
  const json told = json::parse(outcome.out);
  EXPECT_EQ(told["worse"], true);
  EXPECT_FALSE(told["new"].empty());
  const std::string html = TextOf(page);
  EXPECT_THAT(html, HasSubstr("Something got worse."));
  EXPECT_THAT(html, HasSubstr("neither is permission to run"));
  for (const json& finding : told["new"]) EXPECT_THAT(html, HasSubstr(finding["check"].get<std::string>()));
  EXPECT_EQ(html.find("http:"), std::string::npos);
  EXPECT_EQ(html.find("https:"), std::string::npos);
  EXPECT_EQ(html.find("<script"), std::string::npos);
  EXPECT_EQ(RunAircut("compare " + good + " " + bad + " --quiet").out, "");
  EXPECT_EQ(RunAircut("compare " + good + " " + bad + " --page /nowhere/a.html").code, 2);
}

std::vector<std::string> Verbs() { return {"dryrun", "cell", "compare", "report", "picture", "manual", "completion"}; }

// Oracle: --help of each verb: its options, each with its words, stand in the manual page,
// and every help has examples.
TEST(ReportVerbsTest, ManualSaysWhatHelpSays) {
  const std::string roff = RunAircut("manual").out;
  std::string manual = std::regex_replace(roff, std::regex("\\\\-"), "-");
  const std::regex option("(--[a-z-]+)");
  for (const std::string& verb : Verbs()) {
    const std::string help = RunAircut(verb + " --help").out;
    EXPECT_THAT(help, HasSubstr("Examples:")) << verb;
    EXPECT_THAT(help, HasSubstr("aircut " + verb)) << verb;
    EXPECT_THAT(manual, HasSubstr("\n.SS " + verb + "\n"));
    int options = 0;
    for (std::sregex_iterator it(help.begin(), help.end(), option), end; it != end; ++it, ++options) {
      EXPECT_THAT(manual, HasSubstr((*it)[1].str())) << verb;
    }
    EXPECT_GT(options, 0) << verb;
  }
  EXPECT_EQ(roff.rfind(".TH AIRCUT 1", 0), 0u);
  EXPECT_THAT(manual, HasSubstr("NO_COLOR"));
}

// What bash offers for the last word.
std::string Completed(const TempFolder& folder, const std::string& words) {
  const std::string script = (folder.path() / "completion").string();
  std::ofstream(script) << RunAircut("completion").out;
  std::ofstream(folder.path() / "ask") << "source " + script + "\nCOMP_WORDS=(" + words + ")\nCOMP_CWORD=$((${#COMP_WORDS[@]} - 1))\n_aircut\necho \"${COMPREPLY[*]}\"\n";
  const std::string out = (folder.path() / "out").string();
  EXPECT_EQ(std::system(("cd " + folder.path().string() + " && bash ask >out 2>err").c_str()), 0) << TextOf(folder.path() / "err");
  return TextOf(out);
}

// Oracle: bash itself.
TEST(ReportVerbsTest, BashCompletesVerbsOptionsAndFolders) {
  const TempFolder folder;
  std::filesystem::create_directory(folder.path() / "rose-report");
  EXPECT_EQ(Completed(folder, "aircut dry"), "dryrun\n");
  EXPECT_EQ(Completed(folder, "aircut dryrun --bas"), "--baseline\n");
  EXPECT_EQ(Completed(folder, "aircut report rose"), "rose-report\n");
  EXPECT_EQ(Completed(folder, "aircut dryrun job.yaml --baseline rose"), "rose-report\n");
  EXPECT_EQ(Completed(folder, "aircut dryrun --threads ''"), "\n");
  for (const std::string& verb : Verbs()) EXPECT_THAT(Completed(folder, "aircut ''"), HasSubstr(verb));
}

// What a terminal gets, by script(1) of util-linux.
std::string OnATerminal(const TempFolder& folder, const std::string& environment, const std::string& arguments) {
  const std::string file = (folder.path() / "typed").string();
  const std::string command = environment + " script -qec '" + std::string(AIRCUT_PROGRAM) + " " + arguments + "' " + file + " >/dev/null 2>&1 </dev/null";
  EXPECT_GE(std::system(command.c_str()), 0);
  return TextOf(file);
}

// Oracle: no-color.org: colours on a terminal only, and not where NO_COLOR is set.
TEST(ReportVerbsTest, ColoursOnATerminalOnlyAndNotWithNoColor) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.5");
  const std::string run = "dryrun " + tiny.WriteTo(folder) + " --quiet";
  EXPECT_EQ(RunAircut(run).out.find('\033'), std::string::npos);
  const std::string coloured = OnATerminal(folder, "env -u NO_COLOR TERM=xterm", run);
  EXPECT_THAT(coloured, HasSubstr("\033[31;1mfail\033[0m"));
  EXPECT_EQ(OnATerminal(folder, "env NO_COLOR=1 TERM=xterm", run).find("\033[31"), std::string::npos);
  EXPECT_EQ(OnATerminal(folder, "env -u NO_COLOR TERM=dumb", run).find("\033[31"), std::string::npos);
}

}  // namespace
}  // namespace aircut::test
