#include "tools/fixture_verb.h"

#include <algorithm>
#include <cmath>
#include <exception>
#include <filesystem>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/cell_tables.h"
#include "sim/fixture_push.h"
#include "sim/input_error.h"

namespace aircut::tools {
namespace {

using Json = nlohmann::ordered_json;

constexpr double kDepthTolerance_mm = 0.3;   // the default of a job's accept.depth_mm
constexpr char kExamples[] =
    "Examples:\n"
    "  aircut fixture push.csv\n"
    "  aircut fixture push.csv --depth-tolerance 0.2\n"
    "  aircut fixture push.csv --json > push.json\n"
    "Push along x, y and z, with 20 N and with 50 N, a dial on the piece; read it while loading and while letting go.\n"
    "Push where it will be cut: at the highest and at the lowest cut, since rocking grows with the square of height.\n"
    "Stop the arm and lock it out before anyone reaches in.\n"
    "Exit codes: 0 the test was understood, 2 bad input or usage, 4 internal error.";

struct FixtureArguments {
  std::string table;
  double depth_tolerance_mm = kDepthTolerance_mm;
  bool json = false;
};

// One line pushed along, at the place where it was pushed softest.
struct LineStiffness {
  std::string word;
  double n_per_mm = 0;
  double force_n = 0;          // that uses the depth tolerance up
};

struct PushSheet {
  std::vector<sim::PushSeries> series;
  std::vector<LineStiffness> lines;      // softest first
  std::vector<std::string> untold;
  sim::FixtureSpring spring;
};

const char* WordFor(sim::PushModel model) {
  switch (model) {
    case sim::PushModel::kTyped: return "typed";
    case sim::PushModel::kPerDirection: return "per_direction";
    case sim::PushModel::kPoint: return "3x3";
    case sim::PushModel::kRigidBody: return "6x6";
  }
  return "";
}

const char* SentenceFor(sim::PushModel model) {
  switch (model) {
    case sim::PushModel::kRigidBody: return "The pushes tell a whole 6x6: the piece as a body on its springs.";
    case sim::PushModel::kPoint: return "The pushes tell a whole 3x3 at their place.";
    default: break;
  }
  return "The pushes tell one stiffness a line; what a push along one line moves along another is not told.";
}

// Over the places pushed, the softest of a line.
std::vector<LineStiffness> LinesOf(const sim::FixtureSpring& spring, const std::vector<sim::PushSeries>& series,
                                   double tolerance_mm) {
  std::vector<LineStiffness> lines;
  for (const Eigen::Vector3d& line : spring.SoftLines(series.front().p_S)) {
    double mm_n = 0;
    for (const sim::PushSeries& s : series) mm_n = std::max(mm_n, line.dot(spring.ComplianceAt(s.p_S) * line));
    const Eigen::Vector3d shown = line.sum() < 0 ? Eigen::Vector3d(-line) : line;
    lines.push_back({sim::LineWord(shown), 1 / mm_n, tolerance_mm / mm_n});
  }
  std::stable_sort(lines.begin(), lines.end(),
                   [](const LineStiffness& a, const LineStiffness& b) { return a.n_per_mm < b.n_per_mm; });
  return lines;
}

PushSheet SheetOf(const FixtureArguments& arguments) {
  const std::vector<sim::PushRow> rows = sim::ReadPushTest(arguments.table);
  PushSheet sheet{sim::PushSeriesOf(rows), {}, {}, sim::FixtureSpring::FromPushes(rows)};
  sheet.lines = LinesOf(sheet.spring, sheet.series, arguments.depth_tolerance_mm);
  for (const Eigen::Vector3d& line : sheet.spring.untold()) {
    sheet.untold.push_back(sim::LineWord(line.sum() < 0 ? Eigen::Vector3d(-line) : line));
  }
  return sheet;
}

std::string Given(const std::optional<double>& value, const char* unit) {
  return value ? fmt::format("{:.3g} {}", *value, unit) : std::string("not read");
}

std::string PlaceText(const Eigen::Vector3d& p) { return fmt::format("({:g}, {:g}, {:g}) mm", p.x(), p.y(), p.z()); }

void PrintSeries(const sim::PushSeries& s) {
  fmt::print("\nPush along {} at {}, lines {} to {}, up to {:g} N\n", sim::LineWord(s.direction_S), PlaceText(s.p_S),
             s.first_line, s.last_line, s.force_n);
  fmt::print("  stiffness    {:.4g} N/mm loading, {} letting go\n", 1 / s.loading_mm_n,
             s.unloading_mm_n ? fmt::format("{:.4g} N/mm", 1 / *s.unloading_mm_n) : "not read");
  fmt::print("  hysteresis   {}\n", Given(s.hysteresis_mm, "mm"));
  fmt::print("  slip         {}\n", Given(s.slip_mm, "mm"));
  fmt::print("  off its line {:.3g} mm\n", s.scatter_mm);
  const double beside_mm = (s.p_SG - s.p_S).cross(s.direction_S).norm();
  fmt::print("  dial         at {}{}, stands on {}\n", PlaceText(s.p_SG),
             beside_mm > 25 ? fmt::format(", {:.0f} mm beside the push", beside_mm) : "", s.stands_on);
}

void PrintSheet(const FixtureArguments& arguments, const PushSheet& sheet) {
  fmt::print("Push test: {}, {} pushes\n", arguments.table, sheet.series.size());
  fmt::print("{}\n", SentenceFor(sheet.spring.model()));
  for (const LineStiffness& line : sheet.lines) {
    if (!std::isfinite(line.n_per_mm)) continue;
    fmt::print("  {:<4} {:>8.4g} N/mm; {:.3g} N use up {:g} mm of depth\n", line.word, line.n_per_mm, line.force_n,
               arguments.depth_tolerance_mm);
  }
  for (const std::string& word : sheet.untold) fmt::print("  {:<4} not told: push along it\n", word);
  fmt::print("Hysteresis, slip and scatter leave {:.0f} % open.\n", 100 * sheet.spring.band());
  if (const auto& heights = sheet.spring.heights()) {
    fmt::print("Pushed across from z = {:g} to {:g} mm: cuts more than {:g} mm above or below that are not settled by "
               "this test.\n", heights->first, heights->second, sim::FixtureSpring::kHeight_mm);
  } else {
    fmt::print("Nothing was pushed across: rocking is not told.\n");
  }
  std::set<std::string> stands;
  for (const sim::PushSeries& s : sheet.series) stands.insert(s.stands_on);
  fmt::print("What gives between the dial's stand ({}) and the foot of the arm is not in these numbers.\n",
             fmt::join(stands, ", "));
  for (const sim::PushSeries& s : sheet.series) PrintSeries(s);
}

Json Optional(const std::optional<double>& value) { return value ? Json(*value) : Json(nullptr); }

void PrintJson(const FixtureArguments& arguments, const PushSheet& sheet) {
  Json page;
  page["schema"] = "aircut/fixture/1";
  page["file"] = arguments.table;
  page["model"] = WordFor(sheet.spring.model());
  page["depth_tolerance_mm"] = arguments.depth_tolerance_mm;
  page["open_share"] = sheet.spring.band();
  page["lines"] = Json::array();
  for (const LineStiffness& line : sheet.lines) {
    if (!std::isfinite(line.n_per_mm)) continue;
    page["lines"].push_back({{"along", line.word}, {"n_per_mm", line.n_per_mm}, {"force_at_tolerance_n", line.force_n}});
  }
  page["not_told"] = sheet.untold;
  const auto& heights = sheet.spring.heights();
  page["heights_mm"] = heights ? Json::array({heights->first, heights->second}) : Json(nullptr);
  page["pushes"] = Json::array();
  for (const sim::PushSeries& s : sheet.series) {
    page["pushes"].push_back({{"along", sim::LineWord(s.direction_S)},
                              {"at_mm", {s.p_S.x(), s.p_S.y(), s.p_S.z()}},
                              {"lines", {s.first_line, s.last_line}},
                              {"force_n", s.force_n},
                              {"displacement_mm", s.displacement_mm},
                              {"loading_n_per_mm", 1 / s.loading_mm_n},
                              {"unloading_n_per_mm", s.unloading_mm_n ? Json(1 / *s.unloading_mm_n) : Json(nullptr)},
                              {"hysteresis_mm", Optional(s.hysteresis_mm)},
                              {"slip_mm", Optional(s.slip_mm)},
                              {"scatter_mm", s.scatter_mm},
                              {"stands_on", s.stands_on}});
  }
  fmt::print("{}\n", page.dump(2, ' ', false, Json::error_handler_t::replace));
}

ExitCode RunFixtureVerb(const FixtureArguments& arguments) {
  try {
    if (!(arguments.depth_tolerance_mm > 0 && std::isfinite(arguments.depth_tolerance_mm))) {
      throw sim::InputError(fmt::format("--depth-tolerance = {} must be > 0 mm: give the depth error you accept, such as 0.3",
                                        arguments.depth_tolerance_mm));
    }
    if (!std::filesystem::is_regular_file(arguments.table)) {
      throw sim::InputError(fmt::format("{}: file not found: check the name of the push test", arguments.table));
    }
    const PushSheet sheet = SheetOf(arguments);
    if (arguments.json) PrintJson(arguments, sheet);
    else PrintSheet(arguments, sheet);
    return kExitPass;
  } catch (const sim::InputError& error) {
    fmt::print(stderr, "aircut: {}\n", error.what());
    return kExitBadInput;
  } catch (const std::exception& error) {
    fmt::print(stderr, "aircut: internal error: {}; please report it with the table\n", error.what());
    return kExitInternal;
  }
}

}  // namespace

void AddFixtureVerb(CLI::App& app, ExitCode& code) {
  const auto arguments = std::make_shared<FixtureArguments>();
  CLI::App* verb = app.add_subcommand("fixture", "print what a fixture gives, from a push test");
  verb->footer(kExamples);
  verb->add_option("table", arguments->table, "the push test, a table")->required()->type_name("PUSH.csv");
  verb->add_option("--depth-tolerance", arguments->depth_tolerance_mm, "depth error that is accepted (default: 0.3)")
      ->type_name("MM");
  verb->add_flag("--json", arguments->json, "print numbers for programs instead of sentences");
  verb->callback([arguments, &code] { code = RunFixtureVerb(*arguments); });
}

}  // namespace aircut::tools
