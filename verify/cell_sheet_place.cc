#include <fmt/format.h>

#include "verify/cell_sheet_parts.h"
#include "verify/cell_words.h"
#include "verify/words.h"

// What stands around the arm: workpiece, fixture, clamps, obstacles, keep-clear bodies.
namespace aircut::verify {
namespace {

using sim::Declared;

std::string Said(Declared said, const std::string& given) {
  switch (said) {
    case Declared::kNone: return "none";
    case Declared::kGiven: return given;
    case Declared::kUnsaid: break;
  }
  return "NOT SAID";
}

// A part with bodies counts as given, whatever its word.
std::string SaidOf(Declared said, std::size_t bodies, const std::string& noun) {
  const std::string given = Plural(static_cast<std::int64_t>(bodies), noun);
  return bodies > 0 ? given : Said(said, given);
}

std::string LinksText(const sim::Cell& cell) {
  if (cell.links.empty()) return "NOT SAID";
  const int joints = cell.arm ? static_cast<int>(cell.arm->chain().size()) : 0;
  std::vector<std::string> bare;
  for (int link = 0; link <= joints; ++link) {
    bool has = false;
    for (const sim::LinkBody& body : cell.links) has = has || (body.link == link && !body.shapes.empty());
    if (!has) bare.push_back(link == 0 ? "the base" : "link " + std::to_string(link));
  }
  const std::string text = "bodies on the links: " + Count(static_cast<std::int64_t>(cell.links.size()));
  return bare.empty() ? text : text + "; none on " + List(bare);
}

std::string ObstaclesText(const sim::Cell& cell) {
  if (cell.obstacles_W.empty()) return Said(cell.obstacles, "none");
  std::vector<std::string> names;
  for (const sim::NamedBody& body : cell.obstacles_W) names.push_back(body.name);
  return List(names);
}

std::string ClampRows(const sim::Cell& cell) {
  if (cell.clamps.empty()) return SheetRow("clamps", Said(cell.clamps_said, "none"));
  std::string text;
  for (std::size_t i = 0; i < cell.clamps.size(); ++i) {
    const sim::Clamp& clamp = cell.clamps[i];
    text += SheetRow(fmt::format("clamp {}", i + 1),
                     fmt::format("at {} mm, presses {} N along {}, friction {}, {}", GivenTriple(clamp.p_S),
                                 Given(clamp.force_n), GivenTriple(clamp.direction_S), Given(clamp.friction),
                                 clamp.body_S.empty() ? "its body NOT SAID" : "with its body"));
  }
  return text;
}

std::string StiffnessText(const sim::Cell& cell) {
  if (cell.fixture_n_per_mm) return GivenTriple(*cell.fixture_n_per_mm) + " N/mm";
  if (cell.push_test.empty()) return "not said";
  return fmt::format("push test, {}", Plural(static_cast<std::int64_t>(cell.push_test.size()), "row"));
}

std::string FrameText(const sim::Cell& cell) {
  const std::string points = Plural(static_cast<std::int64_t>(cell.fit.size()), "point");
  if (!cell.X_WS_typed) return "fitted to " + points;
  return cell.fit.empty() ? "typed, as the controller holds it"
                          : fmt::format("typed, as the controller holds it; {} to fit beside it", points);
}

std::string TouchedText(const sim::Cell& cell) {
  if (cell.touched_W.empty()) return "none";
  return Plural(static_cast<std::int64_t>(cell.touched_W.size()), "point") + ", in the world";
}

}  // namespace

std::string SurroundingsSection(const sim::Cell& cell) {
  std::string text = "Workpiece and what stands around\n";
  text += SheetRow("work frame", FrameText(cell));
  text += SheetRow("touched on the piece", TouchedText(cell));
  text += SheetRow("arm", LinksText(cell));
  text += SheetRow("fixture", SaidOf(cell.fixture, cell.fixture_S.size(), "part"));
  text += SheetRow("fixture stiffness", StiffnessText(cell));
  text += ClampRows(cell);
  text += SheetRow("obstacles", ObstaclesText(cell));
  text += SheetRow("hose", cell.hose_bodies.empty() ? Said(cell.hose, "given")
                                                    : SaidOf(cell.hose, cell.hose_bodies.size(), "keep-clear body"));
  text += SheetRow("dust hood", SaidOf(cell.dust_hood, cell.dust_hood_H.size(), "part"));
  const std::string floor = cell.floor_z_mm ? "at z = " + GivenMm(*cell.floor_z_mm) : Said(cell.floor, "given");
  return text + SheetRow("floor", floor);
}

}  // namespace aircut::verify
