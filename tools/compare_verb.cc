#include "tools/compare_verb.h"

#include <exception>
#include <memory>
#include <optional>
#include <string>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "tools/output_file.h"
#include "tools/scan_compare.h"
#include "verify/compare_page.h"
#include "verify/report_comparison.h"

namespace aircut::tools {
namespace {

constexpr char kExamples[] =
    "Examples:\n"
    "  aircut compare report-before report-after\n"
    "  aircut compare build/rose build/rose_low\n"
    "  aircut compare report-job report-job-edited || echo 'look before you run it'\n"
    "  aircut compare report-job scan_of_the_piece.ply --measured measured.ply\n"
    "  aircut compare report-job scan_of_the_piece.ply --page as_cut.html\n"
    "  aircut compare report-before report-after --page differences.html\n"
    "  aircut compare report-before report-after --json --quiet > differences.json\n"
    "A scan of the piece that was cut is laid on the predicted surface first; the fit is told.\n"
    "Findings are the same where check and place (2 mm, or the line) agree; a report lists at most 20 a check.\n"
    "Exit codes: 0 nothing got worse, 1 something did, 2 bad input or usage, 4 internal error. For a scan: 0 predicted\n"
    "and within tolerance, 1 not, 3 unproven.\n"
    "Nothing worse is not a pass: the verdict of the second report stands.";

struct CompareArguments {
  std::string before, after;
  std::string scan_unit = "mm", measured;
  std::string page;
  bool json = false;
  bool quiet = false;
};

std::string ValueText(const std::optional<double>& value) { return value ? fmt::format("{:.6g}", *value) : "unknown"; }

void PrintFindings(const verify::Comparison& c) {
  fmt::print("Findings: {} new, {} gone, {} as before.\n", c.added.size(), c.gone.size(), c.kept.size());
  for (const verify::ReportedFinding& f : c.added) fmt::print("  new   {:<16} {}\n", f.check, f.text);
  for (const verify::ReportedFinding& f : c.gone) fmt::print("  gone  {:<16} {}\n", f.check, f.text);
  for (const verify::FindingChange& f : c.kept) {
    if (f.grown) fmt::print("  grown {:<16} from {:.6g} to {:.6g}: {}\n", f.after.check, f.before.value, f.after.value, f.after.text);
  }
}

void PrintComparison(const verify::ReportedRun& before, const verify::ReportedRun& after, const verify::Comparison& c) {
  fmt::print("Verdict: {}, before: {}.\n", after.verdict, before.verdict);
  for (const verify::CheckChange& check : c.checks) {
    fmt::print("  {:<16} {} -> {}{}\n", check.id, check.before, check.after, check.worse ? "  worse" : "");
  }
  PrintFindings(c);
  fmt::print("Numbers that changed: {}.\n", c.numbers.size());
  for (const verify::NumberChange& n : c.numbers) {
    fmt::print("  {:<16} {} -> {}{}\n", n.name, ValueText(n.before), ValueText(n.after), n.worse ? "  worse" : "");
  }
  fmt::print("{}\n", c.worse() ? "Something got worse." : "Nothing got worse.");
}

ExitCode CompareFolders(const CompareArguments& arguments) {
  const AskedFile page{"--page", arguments.page, ".html"};
  if (!arguments.page.empty()) CheckOutputFile(page);
  const verify::ReportedRun before = verify::ReadReport(arguments.before), after = verify::ReadReport(arguments.after);
  const verify::Comparison c = verify::Compare(before, after);
  if (!arguments.page.empty()) {
    WriteOutputFile(page, verify::ComparisonHtml({arguments.before, before}, {arguments.after, after}, c));
  }
  if (arguments.json) {
    fmt::print("{}", verify::ComparisonJson({arguments.before, before}, {arguments.after, after}, c));
  } else if (!arguments.quiet) {
    PrintComparison(before, after, c);
    if (!arguments.page.empty()) fmt::print("Page: {}\n", arguments.page);
  }
  return c.worse() ? kExitFail : kExitPass;
}

ExitCode RunCompare(const CompareArguments& arguments) {
  try {
    if (IsScanName(arguments.after)) {
      using Print = ScanRequest::Print;
      const Print print = arguments.json ? Print::kJson : arguments.quiet ? Print::kNothing : Print::kSentences;
      return CompareReportWithScan({arguments.before, arguments.after, arguments.scan_unit, arguments.measured, arguments.page, print});
    }
    return CompareFolders(arguments);
  } catch (const sim::InputError& error) {
    fmt::print(stderr, "aircut: {}\n", error.what());
    return kExitBadInput;
  } catch (const std::exception& error) {
    fmt::print(stderr, "aircut: internal error: {}; please report it with both folders\n", error.what());
    return kExitInternal;
  }
}

}  // namespace

void AddCompareVerb(CLI::App& app, ExitCode& code) {
  const auto arguments = std::make_shared<CompareArguments>();
  CLI::App* verb = app.add_subcommand("compare", "say what changed from one report to another, or to a scan of the piece");
  verb->footer(kExamples);
  verb->add_option("before", arguments->before, "folder of the first report")->required()->type_name("DIR");
  verb->add_option("after", arguments->after, "folder of the second report, or a scan of the real piece (.ply, .stl, .obj)")
      ->required()->type_name("DIR|SCAN");
  verb->add_option("--scan-unit", arguments->scan_unit, "unit that the scan was saved in: mm, cm, m or in (default: mm)")
      ->type_name("UNIT");
  verb->add_option("--measured", arguments->measured,
                   "also write the predicted surface with what was measured a vertex")->type_name("FILE.ply");
  verb->add_option("--page", arguments->page, "also write the differences as a page")->type_name("FILE.html");
  verb->add_flag("--json", arguments->json, "print the differences as JSON instead of sentences");
  verb->add_flag("--quiet", arguments->quiet, "print nothing; the exit code tells");
  verb->callback([arguments, &code] { code = RunCompare(*arguments); });
}

}  // namespace aircut::tools
