#include "tools/report_verbs.h"

#include <cmath>
#include <exception>
#include <memory>
#include <string>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "tools/output_file.h"
#include "verify/report.h"
#include "verify/report_picture.h"

namespace aircut::tools {
namespace {

constexpr char kReportExamples[] =
    "Examples:\n"
    "  aircut report scenes/transom/report-job\n"
    "  aircut report build/rose --quiet\n"
    "Reads report.json, figures.json and the pictures of the folder; computes nothing and changes no number.\n"
    "Exit codes: 0 written, 2 bad input or usage, 4 internal error. The verdict stands in the page.";
constexpr char kPictureExamples[] =
    "Examples:\n"
    "  aircut picture build/rose                                 # the whole piece\n"
    "  aircut picture build/rose_low --finding 3 --out place.png\n"
    "  aircut picture build/rose_low --finding 3 --across 20 --width 1600 --height 1000\n"
    "Exit codes: 0 drawn, 2 bad input or usage, 4 internal error.";
constexpr int kLargest_px = 8192;
constexpr double kMostAcross_mm = 1e5;

struct ReportArguments {
  std::string folder;
  bool quiet = false;
};

struct PictureArguments {
  std::string folder, out;
  int finding = 0;
  bool finding_given = false;
  double across_mm = 0.0;
  bool across_given = false;
  int width_px = 1100, height_px = 760;
  bool quiet = false;
};

// Runs `work` and tells of what goes wrong in the user's words.
template <typename Work>
ExitCode Guarded(const Work& work) {
  try {
    work();
    return kExitPass;
  } catch (const sim::InputError& error) {
    fmt::print(stderr, "aircut: {}\n", error.what());
    return kExitBadInput;
  } catch (const std::exception& error) {
    fmt::print(stderr, "aircut: internal error: {}; please report it with the folder\n", error.what());
    return kExitInternal;
  }
}

void MakePage(const ReportArguments& arguments) {
  verify::RebuildPage(arguments.folder);
  if (!arguments.quiet) fmt::print("Report: {}\n", (std::filesystem::path(arguments.folder) / "report.html").string());
}

void CheckArguments(const PictureArguments& arguments) {
  if (arguments.finding_given && arguments.finding < 1) {
    throw sim::InputError(fmt::format("--finding = {} must be a number of the report page, from 1", arguments.finding));
  }
  if (arguments.across_given && !(arguments.across_mm > 0 && arguments.across_mm <= kMostAcross_mm)) {
    throw sim::InputError(fmt::format("--across = {} must be > 0 mm and at most {} mm: give the width that is seen", arguments.across_mm, kMostAcross_mm));
  }
  if (arguments.across_given && !arguments.finding_given) {
    throw sim::InputError("--across goes with --finding only: name the finding, or take it out");
  }
  for (const int size : {arguments.width_px, arguments.height_px}) {
    if (size < 64 || size > kLargest_px) {
      throw sim::InputError(fmt::format("--width and --height = {} must be from 64 to {} pixels", size, kLargest_px));
    }
  }
}

AskedFile FileOf(const PictureArguments& arguments) {
  if (!arguments.out.empty()) return {"--out", arguments.out, ".png"};
  return {"--out", arguments.finding_given ? fmt::format("finding-{:02}.png", arguments.finding) : std::string("piece.png"), ".png"};
}

void Draw(const PictureArguments& arguments) {
  CheckArguments(arguments);
  const AskedFile asked = FileOf(arguments);
  CheckOutputFile(asked);
  verify::ReportPictureRequest request;
  request.folder = arguments.folder;
  if (arguments.finding_given) request.finding = arguments.finding;
  if (arguments.across_given) request.across_mm = arguments.across_mm;
  request.width_px = arguments.width_px, request.height_px = arguments.height_px;
  const std::vector<unsigned char> png = verify::PictureOfReport(request);
  WriteOutputFile(asked, std::string(png.begin(), png.end()));
  if (!arguments.quiet) fmt::print("Picture: {}\n", asked.file.string());
}

void AddReport(CLI::App& app, ExitCode& code) {
  const auto arguments = std::make_shared<ReportArguments>();
  CLI::App* verb = app.add_subcommand("report", "make the page of a report folder again, from its data");
  verb->footer(kReportExamples);
  verb->add_option("folder", arguments->folder, "folder of the report")->required()->type_name("DIR");
  verb->add_flag("--quiet", arguments->quiet, "print nothing");
  verb->callback([arguments, &code] { code = Guarded([&] { MakePage(*arguments); }); });
}

void AddPicture(CLI::App& app, ExitCode& code) {
  const auto arguments = std::make_shared<PictureArguments>();
  CLI::App* verb = app.add_subcommand("picture", "draw the carved piece of a report folder, whole or at a finding");
  verb->footer(kPictureExamples);
  verb->add_option("folder", arguments->folder, "folder of the report")->required()->type_name("DIR");
  CLI::Option* finding = verb->add_option("--finding", arguments->finding, "number of a finding on the page: its place is framed and ringed")->type_name("N");
  CLI::Option* across = verb->add_option("--across", arguments->across_mm, "width that is seen around the finding")->type_name("MM");
  verb->add_option("--out", arguments->out, "where to draw it (default: finding-NN.png or piece.png)")->type_name("FILE.png");
  verb->add_option("--width", arguments->width_px, "of the picture (default: 1100)")->type_name("PX");
  verb->add_option("--height", arguments->height_px, "of the picture (default: 760)")->type_name("PX");
  verb->add_flag("--quiet", arguments->quiet, "print nothing");
  verb->callback([arguments, finding, across, &code] {
    arguments->finding_given = finding->count() > 0;
    arguments->across_given = across->count() > 0;
    code = Guarded([&] { Draw(*arguments); });
  });
}

}  // namespace

void AddReportVerbs(CLI::App& app, ExitCode& code) {
  AddReport(app, code);
  AddPicture(app, code);
}

}  // namespace aircut::tools
