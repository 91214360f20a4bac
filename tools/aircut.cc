#include <cstdio>
#include <exception>
#include <string>

#include <CLI/CLI.hpp>

#include "tools/cell_verb.h"
#include "tools/compare_verb.h"
#include "tools/dry_run_verb.h"
#include "tools/exit_code.h"
#include "tools/fixture_verb.h"
#include "tools/manual.h"
#include "tools/report_verbs.h"

namespace aircut {
namespace {

constexpr char kExamples[] =
    "Examples:\n"
    "  aircut cell scenes/transom/boat_shop.cell.yaml\n"
    "  aircut dryrun scenes/transom/job.yaml\n"
    "  aircut dryrun job.yaml --resolution 0.1 --out rose-report\n"
    "  aircut compare report-before report-after\n"
    "  aircut fixture push.csv\n"
    "  aircut report rose-report\n"
    "  aircut picture rose-report --finding 3\n"
    "Each verb has its own --help.\n"
    "Exit codes: 0 pass, 1 fail, 3 unproven, 2 bad input or usage, 4 internal error.\n"
    "A pass is evidence for a safety checklist, not leave to run: guards, local codes and a slow air cut on the\n"
    "real machine stay.";

int Main(int argc, char** argv) {
  CLI::App app("aircut: dry run of robot carving, from the finished tool path to a verdict");
  app.set_version_flag("--version", std::string("aircut ") + AIRCUT_VERSION);
  app.footer(kExamples);
  app.require_subcommand(1);
  tools::ExitCode code = tools::kExitInternal;   // a verb that was run says otherwise
  tools::AddDryRunVerb(app, code);
  tools::AddCellVerb(app, code);
  tools::AddCompareVerb(app, code);
  tools::AddFixtureVerb(app, code);
  tools::AddReportVerbs(app, code);
  tools::AddManualVerbs(app, code);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    // Help and version are asked for; anything else is bad usage.
    return app.exit(error) == 0 ? tools::kExitPass : tools::kExitBadInput;
  }
  return code;
}

}  // namespace
}  // namespace aircut

int main(int argc, char** argv) {
  try {
    return aircut::Main(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "aircut: internal error: %s\n", error.what());
    return aircut::tools::kExitInternal;
  }
}
