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
  for (const char* unused : {"force_n", "friction"}) map.FindUnused(unused);
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
  const auto test = map.FindUnused("push_test");
  const auto typed = map.FindUnused("n_per_mm");
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

void ReadBodies(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({"hose", "dust_hood", "floor"});
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
}

}  // namespace aircut::sim
