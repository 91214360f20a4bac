#include <algorithm>

#include <fmt/format.h>

#include "sim/cell_tables.h"
#include "sim/cell_yaml.h"

namespace aircut::sim {
namespace {

Clamp ReadClamp(const YamlValue& value, const CellContext& context) {
  YamlKeys keys = ShapeKeys();
  const YamlKeys own = {"at", "direction", "force_n", "friction"};
  keys.insert(keys.end(), own.begin(), own.end());
  const YamlMap map = value.Map(keys);
  Clamp clamp;
  clamp.p_S = map.At("at", "write where the clamp presses, [x, y, z]").Point_mm();
  clamp.direction_S = map.At("direction", "write the direction of its force on the piece, [x, y, z]").Direction();
  clamp.force_n = map.At("force_n", "write the force of the clamp in N")
                      .Number(Bound::Positive("write the force of the clamp in N", 1e6));
  clamp.friction = map.At("friction", "write the coefficient of friction under the clamp, such as 0.35")
                       .Number(Bound::Within(0, 2, "write the coefficient of friction, such as 0.35"));
  const bool has_body =
      std::any_of(ShapeKeys().begin(), ShapeKeys().end(), [&map](const std::string& key) { return map.Has(key); });
  if (has_body) clamp.body_S.push_back(ReadShape(value, context, "clamp mesh", own));
  return clamp;
}

void ReadClamps(const YamlValue& value, const CellContext& context, Cell& cell) {
  cell.clamps_said = Declared::kNone;
  if (value.IsNone()) return;
  cell.clamps_said = Declared::kGiven;
  for (const YamlValue& item : value.ItemsOrNone()) cell.clamps.push_back(ReadClamp(item, context));
}

void ReadStiffness(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({"push_test", "n_per_mm"});
  const auto test = map.Find("push_test");
  const auto typed = map.Find("n_per_mm");
  if (test.has_value() == typed.has_value()) {
    value.Fail("must have one of push_test and n_per_mm: write the one that is meant");
  }
  if (test) {
    cell.push_test = ReadPushTest(context.files.Take(*test, context.place, "push test"));
    return;
  }
  const std::vector<YamlValue> items = typed->Items(3);
  Eigen::Vector3d stiffness;
  for (std::size_t i = 0; i < 3; ++i) {
    stiffness[static_cast<Eigen::Index>(i)] =
        items[i].Number(Bound::Positive("write the stiffness along x, y, z in N per mm", 1e9));
  }
  cell.fixture_n_per_mm = stiffness;
}

}  // namespace

void ReadFixture(const YamlValue& value, const CellContext& context, Cell& cell) {
  if (value.IsNone()) {
    cell.fixture = cell.clamps_said = Declared::kNone;
    return;
  }
  const YamlMap map = value.Map({"parts", "stiffness", "clamps"});
  if (const auto parts = map.Find("parts")) {
    cell.fixture = parts->IsNone() ? Declared::kNone : Declared::kGiven;
    if (!parts->IsNone()) {
      for (const YamlValue& item : parts->ItemsOrNone()) {
        cell.fixture_S.push_back(ReadShape(item, context, "fixture mesh"));
      }
    }
  }
  if (const auto stiffness = map.Find("stiffness")) ReadStiffness(*stiffness, context, cell);
  if (const auto clamps = map.Find("clamps")) ReadClamps(*clamps, context, cell);
}

void ReadObstacles(const YamlValue& value, const CellContext& context, Cell& cell) {
  cell.obstacles = Declared::kNone;
  if (value.IsNone()) return;
  cell.obstacles = Declared::kGiven;
  YamlKeys keys = ShapeKeys();
  keys.emplace_back("name");
  for (const YamlValue& item : value.ItemsOrNone()) {
    Shape shape = ReadShape(item, context, "obstacle mesh", {"name"});
    const std::string name = item.Map(keys).At("name", "write a name for the obstacle").Text();
    cell.obstacles_W.push_back({name, {std::move(shape)}});
  }
}

namespace {

void ReadRestricted(const YamlValue& value, Cell& cell) {
  if (value.IsNone()) return;
  for (const YamlValue& item : value.ItemsOrNone()) {
    const YamlMap map = item.Map({"name", "point", "inwards"});
    RestrictedPlane plane;
    plane.name = map.At("name", "write a name for the plane").Text();
    plane.p_W = map.At("point", "write a point of the plane in the world, [x, y, z]").Point_mm();
    plane.inwards_W =
        map.At("inwards", "write a direction away from the restricted space, such as [0, 0, -1]").Direction();
    cell.restricted_W.push_back(plane);
  }
}

// Names of the bodies that the arm carries, as the report has them.
std::vector<std::string> NamesOnArm(const Cell& cell) {
  std::vector<std::string> names;
  for (const LinkBody& body : cell.links) names.push_back(fmt::format("link {}", body.link));
  if (!cell.housing_shapes_H.empty()) names.emplace_back("spindle housing");
  if (!cell.dust_hood_H.empty()) names.emplace_back("dust hood");
  for (const auto& [number, cutter] : cell.cutters) {
    names.push_back(fmt::format("shank and holder of cutter {}", number));
    names.push_back(fmt::format("cutter {}", number));
  }
  return names;
}

std::string ReadNameOnArm(const YamlValue& value, const std::vector<std::string>& names) {
  const std::string name = value.Text();
  if (std::find(names.begin(), names.end(), name) != names.end()) return name;
  value.Fail(fmt::format("= {} is no body of the arm, must be one of {}: mend the name", name, fmt::join(names, ", ")));
}

// Only of the arm's own bodies can a cell know that they never meet.
void ReadNeverMeet(const YamlValue& value, Cell& cell) {
  const std::vector<std::string> names = NamesOnArm(cell);
  for (const YamlValue& item : value.Items()) {
    const std::vector<YamlValue> pair = item.Items();
    if (pair.size() != 2) {
      item.Fail(fmt::format("has {} names, must have two: write one entry a pair, [link 2, link 4]", pair.size()));
    }
    cell.never_meet.emplace_back(ReadNameOnArm(pair[0], names), ReadNameOnArm(pair[1], names));
  }
}

}  // namespace

void ReadBodies(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({"hose", "dust_hood", "floor", "restricted", "never_meet"});
  const auto said = [](const YamlValue& body) { return body.IsNone() ? Declared::kNone : Declared::kGiven; };
  if (const auto hose = map.Find("hose")) {
    cell.hose = said(*hose);
    if (!hose->IsNone()) {
      hose->ItemsOrNone();
      cell.hose_bodies =
          ReadLinkBodies(*hose, context, "hose mesh", static_cast<int>(cell.arm->chain().size()));
    }
  }
  if (const auto hood = map.Find("dust_hood")) {
    cell.dust_hood = said(*hood);
    if (!hood->IsNone()) {
      for (const YamlValue& item : hood->ItemsOrNone()) {
        cell.dust_hood_H.push_back(ReadShape(item, context, "dust hood mesh"));
      }
    }
  }
  if (const auto floor = map.Find("floor")) {
    cell.floor = said(*floor);
    if (!floor->IsNone()) {
      if (!floor->IsMap()) floor->Fail("must be none or a map: write none or {z: height}");
      cell.floor_z_mm = floor->Map({"z"})
                            .At("z", "write the height of the floor in the world frame")
                            .Length_mm(Bound::Within(-1e6, 1e6, "write the height of the floor"));
    }
  }
  if (const auto restricted = map.Find("restricted")) ReadRestricted(*restricted, cell);
  if (const auto never_meet = map.Find("never_meet")) ReadNeverMeet(*never_meet, cell);
}

}  // namespace aircut::sim
