#include "verify/cell_premises.h"

#include <algorithm>

#include <fmt/format.h>

#include "verify/cell_sheet_parts.h"
#include "verify/cell_words.h"
#include "verify/silent_bodies.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

constexpr std::size_t kReadouts = 3, kTouched = 3, kFitPoints = 4;

PremiseSource ArmModel(const sim::Cell& cell) {
  const std::size_t rows = cell.readouts ? cell.readouts->rows.size() : 0;
  PremiseSource source{"arm-model", rows >= kReadouts, Plural(static_cast<std::int64_t>(rows), "read-out"), "", ""};
  if (source.second) return source;
  source.key = "arm.readouts";
  source.action = "jog to three or more poses far apart and write down the joint values and the flange pose that the "
                  "panel shows, with the tool switched to the bare flange";
  return source;
}

PremiseSource PieceLocated(const sim::Cell& cell) {
  const auto count = static_cast<std::int64_t>(cell.touched_W.size());
  PremiseSource source{"piece-located", cell.touched_W.size() >= kTouched, Plural(count, "touched point"), "", ""};
  if (source.second) return source;
  source.key = "workpiece.touched";
  source.action = "with the spindle stopped, touch three or more points spread over the real piece, not those that "
                  "the frame was fitted to, and write down where the panel says the tip is in the world";
  return source;
}

PremiseSource FrameFit(const sim::Cell& cell) {
  const auto count = static_cast<std::int64_t>(cell.fit.size());
  PremiseSource source{"frame-fit", cell.fit.size() >= kFitPoints, Plural(count, "fitted point"), "", ""};
  if (source.second) return source;
  source.key = "workpiece.in_world.fit";
  if (cell.fit.empty()) {
    source.has = "the frame is typed, nothing shows how well it was found";
    source.action = "touch four or more named points around the work whose place in the piece is known, and give the "
                    "table beside the typed frame";
    return source;
  }
  source.action = "touch a fourth point: with three, little is left over to show that one of them is wrong";
  return source;
}

PremiseSource ToolMeasured(const sim::Cell& cell) {
  PremiseSource source{"tool-measured", false, "", "", ""};
  std::vector<std::string> measured, open;
  for (const auto& [number, cutter] : cell.cutters) {
    const bool both = cutter.measured && cutter.measured_diameter_mm.has_value();
    (both ? measured : open).push_back(std::to_string(number));
  }
  source.second = open.empty() && !measured.empty();
  source.has = measured.empty() ? "no cutter has both its stick-out and its diameter measured"
                                : fmt::format("cutter {}: stick-out and diameter measured", List(measured));
  if (source.second || open.empty()) return source;
  source.key = fmt::format("cutters.{}.measured: {{stick_out:, diameter:, by:}}", open.front());
  source.action = fmt::format("measure stick-out and diameter of cutter {} in its collet, with a setter and a micrometer",
                              List(open));
  return source;
}

std::vector<int> AllCutters(const sim::Cell& cell) {
  std::vector<int> numbers;
  for (const auto& [number, cutter] : cell.cutters) numbers.push_back(number);
  return numbers;
}

PremiseSource BodiesDeclared(const sim::Cell& cell) {
  const std::vector<std::string> keys = SilentBodies(cell, AllCutters(cell));
  PremiseSource source{"bodies-declared", keys.empty(), "every kind of body is given or said to be absent", "", ""};
  if (source.second) return source;
  source.has = "nothing is said of some bodies";
  source.key = List(keys);
  source.action = "walk round the cell and write down each body, or none where there is none";
  return source;
}

PremiseSource PayloadSource(const sim::Cell& cell) {
  PremiseSource source{"payload", false, "not said", "arm.payload: {limit_kg:, tool_kg:, centre_in_flange:}",
                       "weigh the spindle with bracket, cable and hose, and find where it balances"};
  if (!cell.payload) return source;
  source.has = fmt::format("{} kg carried of {} kg", Given(cell.payload->tool_kg), Given(cell.payload->limit_kg));
  source.second = cell.payload->centre_F.has_value();
  if (!source.second) {
    source.has += ", its centre of mass not said";
    source.key = "arm.payload.centre_in_flange";
    source.action = "balance the spindle with its bracket on an edge in two directions";
    return source;
  }
  source.has += ", centre at " + GivenTriple(*cell.payload->centre_F) + " mm in the flange";
  source.key = source.action = "";
  return source;
}

}  // namespace

std::vector<PremiseSource> PremisesOf(const sim::Cell& cell) {
  return {ArmModel(cell), PieceLocated(cell), FrameFit(cell), ToolMeasured(cell), BodiesDeclared(cell),
          PayloadSource(cell)};
}

std::string PremisesSection(const sim::Cell& cell) {
  std::string text = "Premises: is the file the thing? A dry run is worth what these rest on\n";
  for (const PremiseSource& source : PremisesOf(cell)) {
    text += SheetRow(source.check, fmt::format("{}: {}", source.second ? "has a second source" : "HAS NONE", source.has));
    if (source.key.empty()) continue;
    text += SheetRow("", "add " + source.key);
    text += SheetRow("", source.action);
  }
  return text;
}

}  // namespace aircut::verify
