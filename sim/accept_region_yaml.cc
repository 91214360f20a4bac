// Parts of the workpiece that are judged by limits of their own.
#include <algorithm>
#include <limits>

#include <fmt/format.h>

#include "sim/job_parts.h"

namespace aircut::sim {
namespace {

constexpr double kFar_mm = 1e6;

Eigen::AlignedBox3d ReadBox(const YamlValue& value) {
  const YamlMap map = value.Map({"min", "max"});
  const Eigen::Vector3d least = map.At("min", "write the lowest corner, [x, y, z]").Point_mm();
  const YamlValue max = map.At("max", "write the highest corner, [x, y, z]");
  const Eigen::Vector3d most = max.Point_mm();
  for (int axis = 0; axis < 3; ++axis) {
    if (most[axis] > least[axis]) continue;
    max.Fail(fmt::format("= {:g} along {} must be > min, {:g}: write the corners the other way round", most[axis],
                         "xyz"[axis], least[axis]));
  }
  return {least, most};
}

void ReadOutline(const YamlValue& value, AcceptRegion& region) {
  const Bound bound = Bound::Within(-kFar_mm, kFar_mm, "write [x, y] in the workpiece");
  for (const YamlValue& item : value.Items()) {
    const std::vector<YamlValue> xy = item.Items(2);
    region.outline_S.emplace_back(xy[0].Length_mm(bound), xy[1].Length_mm(bound));
  }
  if (region.outline_S.size() < 3) {
    value.Fail(fmt::format("has {} corners, must have 3 or more: write the outline as seen along z, [[x, y], ..]",
                           region.outline_S.size()));
  }
  for (const Eigen::Vector2d& p : region.outline_S) {
    region.box_S.extend(Eigen::Vector3d(p.x(), p.y(), -2.0 * kFar_mm));
    region.box_S.extend(Eigen::Vector3d(p.x(), p.y(), 2.0 * kFar_mm));
  }
  double twice_mm2 = 0.0;
  for (std::size_t i = 0; i < region.outline_S.size(); ++i) {
    const Eigen::Vector2d &a = region.outline_S[i], &b = region.outline_S[(i + 1) % region.outline_S.size()];
    twice_mm2 += a.x() * b.y() - b.x() * a.y();
  }
  if (twice_mm2 == 0.0) value.Fail("encloses no area: write the corners in order round the region");
}

AcceptRegion ReadRegion(const YamlValue& value) {
  const YamlMap map = value.Map({"name", "within", "depth_mm", "gouge_mm", "leftover_mm"});
  AcceptRegion region;
  region.name = map.At("name", "write a name, by which findings call it").Text();
  const YamlValue within = map.At("within", "write {box: {min:, max:}} or {outline: [[x, y], ..]}");
  const YamlMap shape = within.Map({"box", "outline"});
  const auto box = shape.Find("box"), outline = shape.Find("outline");
  if (box.has_value() == outline.has_value()) within.Fail("must have one of box and outline: write the one that is meant");
  if (box) region.box_S = ReadBox(*box);
  if (outline) ReadOutline(*outline, region);
  const Bound tolerance = Bound::Positive("write the limit you accept there, in mm", 1000);
  const auto read = [&](const char* key, std::optional<double>& limit) {
    if (const auto given = map.Find(key)) limit = given->Number(tolerance);
  };
  read("depth_mm", region.depth_mm);
  read("gouge_mm", region.gouge_mm);
  read("leftover_mm", region.leftover_mm);
  if (!region.depth_mm && !region.gouge_mm && !region.leftover_mm) {
    value.Fail("states no limit: write depth_mm, gouge_mm or leftover_mm, or take the region out");
  }
  return region;
}

}  // namespace

std::vector<AcceptRegion> ReadAcceptRegions(const YamlValue& value) {
  std::vector<AcceptRegion> regions;
  for (const YamlValue& item : value.Items()) {
    AcceptRegion region = ReadRegion(item);
    const auto same = [&](const AcceptRegion& other) { return other.name == region.name; };
    if (std::any_of(regions.begin(), regions.end(), same)) {
      item.Fail(fmt::format("is the second of the name {:.60}: give every region a name of its own", region.name));
    }
    regions.push_back(std::move(region));
  }
  if (regions.empty()) value.Fail("is empty: list the regions, or take the key out");
  return regions;
}

}  // namespace aircut::sim
