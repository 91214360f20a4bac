#include <gtest/gtest.h>

#include "tests/support/made_report.h"
#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::MadeReport;
using support::MakeReport;

PiecePicture MadePicture() {
  const sim::Mesh box = sim::BoxMesh({-120, -90, -30}, {120, 90, 0});
  PictureRequest request;
  request.mesh_S = &box;
  request.width_px = 220, request.height_px = 152;
  return {DrawPiece(request), ChooseView(request)};
}

// Without a matcher: a failure must not print the page.
bool Says(const std::string& html, const std::string& text) { return html.find(text) != std::string::npos; }

std::size_t Occurrences(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
  return count;
}

// Oracle: the design's list of what a page must tell.
TEST(ReportHtmlTest, TellsVerdictBlindSpotsChecksFindingsAndInputs) {
  const MadeReport made = MakeReport();
  const std::string html = ReportHtml(made.Context(), MadePicture());
  EXPECT_TRUE(Says(html, "Fail. The lower rim of the rose would be cut 2.1 mm too deep."));
  EXPECT_TRUE(Says(html, made.verdict.mend_first));
  EXPECT_TRUE(Says(html, made.verdict.reason));
  for (const CheckResult& check : made.checks) EXPECT_TRUE(Says(html, check.id)) << check.id;
  for (const BlindSpot& spot : made.verdict.cannot_see) {
    EXPECT_TRUE(Says(html, spot.text));
    EXPECT_TRUE(Says(html, spot.test));
  }
  EXPECT_TRUE(Says(html, made.checks[4].findings[0].text));
  EXPECT_TRUE(Says(html, made.checks[4].findings[0].cause));
  for (const sim::InputFile& input : made.job.inputs) EXPECT_TRUE(Says(html, input.sha256));
  EXPECT_TRUE(Says(html, "Not stated by the job: leftover 0.3"));
  EXPECT_TRUE(Says(html, "23:40"));   // 1420 s
  EXPECT_TRUE(Says(html, "78\u00a0%"));
  EXPECT_TRUE(Says(html, "61.2\u00a0cm³"));
}

// The cause of the field stands with its share and its rivals below the deviation; without
// one the page has no word of it.
TEST(ReportHtmlTest, ProbableCauseStandsBelowTheDeviation) {
  MadeReport made = MakeReport();
  EXPECT_FALSE(Says(ReportHtml(made.Context(), MadePicture()), "Probable cause, from"));
  made.deviation.cause = ProbableCause{{{{CauseKind::kFrameZ, -2.06, 0.01}}, 0.97},
                                       {{{{CauseKind::kToolLength, 2.05, 0.01}}, 0.965}},
                                       1234};
  const std::string html = ReportHtml(made.Context(), MadePicture());
  EXPECT_TRUE(Says(html, "Probable cause, from 1,234 places: the work frame lies 2.06 ± 0.01 mm too low, which explains 97 % of the deviation"));
  EXPECT_TRUE(Says(html, "alike here: the bit is 2.05 ± 0.01 mm longer than typed (96 %)"));
  EXPECT_TRUE(Says(html, "to tell them apart: measure the stick-out of the bit with a setter"));
}

// The page without its scripts and their licence texts: what is read and printed.
std::string WithoutScripts(std::string html) {
  for (const auto& [begin, end] : {std::pair<std::string, std::string>{"<script", "</script>"}, {"<details", "</details>"}}) {
    for (std::size_t at = html.find(begin); at != std::string::npos; at = html.find(begin, at)) {
      html.erase(at, html.find(end, at) + end.size() - at);
    }
  }
  return html;
}

// Oracle: the design: a page that loads nothing. Scripts stand in it, whole, and only those
// whose hash the page's own policy names may run.
TEST(ReportHtmlTest, LoadsNothingAndNamesTheScriptsThatMayRun) {
  const std::string html = ReportHtml(MakeReport().Context(), MadePicture()), plain = WithoutScripts(html);
  for (const char* word : {"http:", "https:", "javascript:", "@import", "url(//", " onload", " onclick"}) EXPECT_FALSE(Says(plain, word)) << word;
  EXPECT_EQ(Occurrences(html, " src="), Occurrences(html, " src=\"data:image/png;base64,"));
  EXPECT_EQ(Occurrences(plain, "<image "), Occurrences(plain, "href=\"data:image/png;base64,iVBORw0KGgo"));   // PNG's signature, RFC 4648
  EXPECT_EQ(Occurrences(plain, "href="), Occurrences(plain, "href=\"data:image/png") + Occurrences(plain, "href=\"#f"));
  EXPECT_TRUE(Says(html, "default-src 'none'"));
  EXPECT_EQ(Occurrences(html, "<script>"), Occurrences(html, " 'sha256-"));
  EXPECT_FALSE(Says(html, "unsafe-eval"));
  EXPECT_FALSE(Says(html, "sourceMappingURL"));
}

// Oracle: HTML's own rule: a '<' of the user's must come out as text. Every
// text of the input is made hostile at once.
TEST(ReportHtmlTest, TextOfTheInputStaysText) {
  const std::string evil = "<script>alert('x')</script>\"&";
  MadeReport made = MakeReport();
  made.job.name = made.job.cell.name = made.job.path_file = evil;
  made.job.inputs[0] = {evil, evil, evil, 1};
  made.job.inputs[1].file = evil;
  made.verdict.headline = made.verdict.mend_first = made.verdict.reason = evil;
  made.verdict.cannot_see[0] = {evil, evil};
  for (CheckResult& check : made.checks) {
    check.id = check.why = check.where = check.unit = evil;
    check.needs = {evil};
    for (Finding& finding : check.findings) finding.check = finding.text = finding.cause = finding.unit = evil;
  }
  const std::string html = ReportHtml(made.Context(), MadePicture());
  EXPECT_EQ(Occurrences(html, "<script"), Occurrences(ReportHtml(MakeReport().Context(), MadePicture()), "<script"));
  EXPECT_FALSE(Says(html, "alert('x')"));
  EXPECT_TRUE(Says(html, "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&quot;&amp;"));
}

// Oracle: look/README of the design, "always with the word": shapes are drawn
// with a name of their own, and no result stands in the table as a shape alone.
TEST(ReportHtmlTest, EachShapeHasItsWord) {
  const std::string html = ReportHtml(MakeReport().Context(), MadePicture());
  for (const char* word : {"fail", "unproven", "pass"}) {
    EXPECT_TRUE(Says(html, std::string("aria-label=\"") + word + "\""));
    EXPECT_TRUE(Says(html, std::string("</svg>") + word + "</td>"));
  }
}

// Oracle: the design: never permission to run, also not on a clean run.
TEST(ReportHtmlTest, ACleanRunIsNoLeaveToRun) {
  MadeReport made = MakeReport();
  made.verdict.result = Result::kPass;
  made.verdict.headline = "No fault found in 14 checks of these files. This is not leave to run.";
  const std::string html = ReportHtml(made.Context(), MadePicture());
  EXPECT_TRUE(Says(html, ">" "No fault found in 14 checks"));
  EXPECT_FALSE(Says(html, "Pass. "));
  EXPECT_TRUE(Says(html, "never permission to run"));
  EXPECT_TRUE(Says(html, "Order of authority: local codes and licensed practice, the site&#39;s rules, the makers&#39; manuals, then this report."));
}

// Oracle: SAF-01 (ISO 10218-1, reduced speed 250 mm/s): the fastest moment is
// 310 * 39/40 = 302.25 mm/s, and 250 / 302.25 = 82.7 %.
TEST(ReportHtmlTest, SlowAirPassStatesTheOverrideThatKeepsReducedSpeed) {
  const std::string html = ReportHtml(MakeReport().Context(), MadePicture());
  EXPECT_TRUE(Says(html, "fastest tip speed of this job 303\u00a0mm/s: set the speed override to 82\u00a0% or less"));
}

// Oracle: design section 10: the page must not depend on threads, times or memory.
TEST(ReportHtmlTest, SameInputGivesTheSamePageWhateverTheMachineDid) {
  MadeReport made = MakeReport();
  const std::string first = ReportHtml(made.Context(), MadePicture());
  made.run.stage_s["cut"] = 99.0;
  const ReportContext other{made.job, made.run, made.deviation, made.checks, made.verdict, 0.25, 1, 3.0};
  EXPECT_TRUE(first == ReportHtml(other, MadePicture()));
}

// The label at the top of the trace of the joint margin.
std::string TopOfMargin(const std::string& html) {
  const std::string anchor = "text-anchor=\"end\">";
  const std::size_t from = html.find(anchor, html.find("nearest joint</text>")) + anchor.size();
  return html.substr(from, html.find('<', from) - from);
}

// Oracle: by hand. In the made motion joint 2 goes from 2 to 18 deg and joint 3
// stays at 5, so their sum keeps at most 18 deg to a limit of 25, while joint 2
// alone keeps up to 75 deg to both its own. The scale ends at the next round number.
TEST(ReportHtmlTest, StripShowsTheSmallerOfOwnAndSumMargin) {
  MadeReport made = MakeReport();
  std::vector<kinematics::JointSpec> joints = support::SampleArmJoints();
  for (const std::size_t j : {3u, 4u, 5u}) joints[j] = support::JointInDegrees(-350, 350, 100, 300);
  const auto top = [&] {
    made.job.cell.arm = std::make_shared<const kinematics::ArmModel>(
        kinematics::ArmModel::FromSphericalWrist(support::SampleArmParameters(), joints));
    return TopOfMargin(ReportHtml(made.Context(), MadePicture()));
  };
  EXPECT_EQ(top(), "80");
  joints[2].sum_limit = kinematics::SumLimit{1, 1.0, kinematics::RadFromDeg(-90), kinematics::RadFromDeg(25)};
  EXPECT_EQ(top(), "20");
}

// Oracle: an unfinished run (no motion, no cut, no depths) is told as such.
TEST(ReportHtmlTest, RunWithoutAnythingIsStillAPage) {
  MadeReport made;
  const std::string html = ReportHtml(made.Context(), PiecePicture{});
  EXPECT_TRUE(Says(html, "no cycle time"));
  EXPECT_TRUE(Says(html, "There is no carved piece to draw"));
  EXPECT_TRUE(Says(html, "depth of the carving not known"));
  EXPECT_FALSE(Says(html.substr(0, html.find("<script")), "nan"));
}

// Oracle: arithmetic; a page of a thousand findings stays a page.
TEST(ReportHtmlTest, ManyFindingsAreCounted) {
  MadeReport made = MakeReport();
  const Finding one = made.checks[4].findings[0];
  made.checks[4].findings.assign(1200, one);
  const std::string html = ReportHtml(made.Context(), MadePicture());
  EXPECT_TRUE(Says(html, "1,001 more are in report.json"));   // 1,201 in all, 200 written out
  EXPECT_LT(html.size(), 5u << 20);
}

// Bodies that come near are drawn where they do; those that stay far are not.
TEST(ReportHtmlTest, DrawsWhereBodiesComeNearest) {
  MadeReport made = MakeReport();
  const support::MadeRun run = support::MakeRun();
  made.job = run.job;
  made.run.motion = run.run.motion;
  made.run.body_kinds = run.run.body_kinds;
  made.run.clearances = run.run.clearances;
  made.run.clearances[0].clearance_mm = 7.25;
  std::string html = ReportHtml(made.Context(), MadePicture());
  EXPECT_TRUE(Says(html, "Where bodies come nearest"));
  EXPECT_TRUE(Says(html, "7.25 mm apart"));
  const std::size_t pictures = Occurrences(html, "=\"data:image/png;base64,iVBORw0KGgo");
  made.run.clearances[0].clearance_mm = 150.0;
  html = ReportHtml(made.Context(), MadePicture());
  EXPECT_EQ(Occurrences(html, "=\"data:image/png;base64,iVBORw0KGgo") + 1, pictures);
  EXPECT_FALSE(Says(html, "Where bodies come nearest"));
}

// Oracle: the rule for waivers: shown, and the check stays what it is.
TEST(ReportHtmlTest, WaivedCheckStaysFailed) {
  MadeReport made = MakeReport();
  made.job.waivers = {{"gouge", "A. Writer, foreman", "the rim is sanded by hand", {"2026-12-31"}, 3}};
  ReportContext context = made.Context();
  context.date = "2026-12-01";
  made.checks[4].waived = true;
  const std::string html = ReportHtml(context, MadePicture());
  EXPECT_TRUE(Says(html, "waived, still fail"));
  EXPECT_TRUE(Says(html, "the rim is sanded by hand"));
  EXPECT_TRUE(Says(html, "counts; the check stays as it is, and so does the verdict"));
  context.date = "2027-01-01";
  EXPECT_TRUE(Says(ReportHtml(context, MadePicture()), "does not count: its last day is over"));
}

// Oracle: SAF-02 (512 mm) on the page with the standard's scope; without a measured stop
// time there is no such table.
TEST(ReportHtmlTest, LeastDistancesAreTheAnswerToAMeasuredStopTime) {
  MadeReport made = MakeReport();
  EXPECT_FALSE(Says(ReportHtml(made.Context(), MadePicture()), "ISO 13855"));
  made.job.cell.stopping = sim::Stopping{0.29, "stop-time meter", {{sim::ProtectiveDevice::Kind::kLightCurtain, "door", 0.03, 14, 0, 0}}};
  const std::string html = ReportHtml(made.Context(), MadePicture());
  EXPECT_TRUE(Says(html, "512\u00a0mm"));
  EXPECT_TRUE(Says(html, "not of bits, splinters or pieces that fly"));
}

// Oracle: the list of lines that only people can answer.
TEST(ReportHtmlTest, ChecklistLeavesToPeopleWhatOnlyTheyKnow) {
  const std::string html = ReportHtml(MakeReport().Context(), MadePicture());
  const std::size_t from = html.find("What only people can answer");
  ASSERT_NE(from, std::string::npos);
  for (const char* line : {"Risk assessment", "Guards and interlocks", "Work-holding", "Spindle and bit rated", "Dust extraction", "People: nobody", "Emergency stop"}) {
    EXPECT_NE(html.find(line, from), std::string::npos) << line;
  }
}

}  // namespace
}  // namespace aircut::verify
