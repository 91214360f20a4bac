#include <algorithm>
#include <map>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/cell_yaml.h"
#include "sim/outline_shapes.h"

namespace aircut::sim {
namespace {

constexpr double kMaxCutter_mm = 1000.0;

double Positive_mm(const YamlMap& map, const char* key, const std::string& mend) {
  return map.At(key, mend).Length_mm(Bound::Positive(mend, kMaxCutter_mm));
}

double Angle_rad(const YamlMap& map) {
  const std::string mend = "write the full angle between the two edges";
  return map.At("angle", mend).Angle_rad(Bound::Positive(mend, kinematics::kPi));
}

// A key of another shape is a slip of the pen that would go unseen.
void RefuseStrangers(const YamlMap& map, const std::string& shape) {
  const std::map<std::string, YamlKeys> own = {
      {"ball", {"diameter", "flute_length"}},
      {"flat", {"diameter", "flute_length"}},
      {"bull_nose", {"diameter", "flute_length", "corner_radius"}},
      {"v", {"diameter", "flute_length", "angle", "tip_radius", "tip_flat"}},
      {"tapered_ball", {"diameter", "flute_length", "angle", "tip_radius"}},
      {"seven_parameters", {"parameters"}},
      {"outline", {"outline"}}};
  const YamlKeys& allowed = own.at(shape);
  for (const char* key : {"diameter", "flute_length", "corner_radius", "angle", "tip_radius", "tip_flat", "parameters", "outline"}) {
    if (std::find(allowed.begin(), allowed.end(), key) != allowed.end()) continue;
    map.Refuse({key}, fmt::format("does not go with shape {}: take it out or mend the shape", shape));
  }
}

Eigen::Vector2d PointRz_mm(const YamlValue& value) {
  const std::vector<YamlValue> items = value.Items(2);
  const Bound bound = Bound::Within(-kMaxCutter_mm, kMaxCutter_mm, "write [r, z]: from the axis, and up from the tip end");
  return {items[0].Length_mm(bound), items[1].Length_mm(bound)};
}

CutterOutline ReadListed(const YamlValue& list) {
  std::vector<OutlineStep> steps;
  for (const YamlValue& item : list.Items()) {
    const YamlMap map = item.Map({"to", "arc_centre"});
    OutlineStep step;
    step.to = PointRz_mm(map.At("to", "write to: [r, z], the next point of the outline"));
    if (const auto centre = map.Find("arc_centre")) step.centre = PointRz_mm(*centre);
    steps.push_back(step);
  }
  return ListedOutline(steps);
}

CutterOutline ReadSevenParameters(const YamlValue& list) {
  const std::vector<YamlValue> v = list.Items(7);
  const Bound length = Bound::Within(-kMaxCutter_mm, kMaxCutter_mm, "write [d, r, e, f, alpha, beta, h] as in the CUTTER statement");
  const Bound angle = Bound::Within(-kinematics::kPi / 2, kinematics::kPi / 2, "write the angle of the bottom, then of the side");
  return SevenParameterOutline({v[0].Length_mm(length), v[1].Length_mm(length), v[2].Length_mm(length), v[3].Length_mm(length),
                                v[4].Angle_rad(angle), v[5].Angle_rad(angle), v[6].Length_mm(length)});
}

CutterOutline ReadCone(const YamlMap& map, const std::string& shape, const OutlineDimensions& d) {
  const auto flat = map.Find("tip_flat");
  const auto tip = map.Find("tip_radius");
  if (flat.has_value() == tip.has_value()) {
    map.value().Fail(shape == "v" ? "must have one of tip_radius (0 for a sharp tip) and tip_flat: write the one that "
                                    "is meant"
                                  : "has no tip_radius: write the radius of the tip");
  }
  const double angle_rad = Angle_rad(map);
  if (flat) {
    return FlatTipConeOutline(d, angle_rad, Positive_mm(map, "tip_flat", "write the diameter of the flat at the tip"));
  }
  const double tip_mm = tip->Length_mm(Bound::Within(0, kMaxCutter_mm, "write the radius of the tip"));
  if (shape == "tapered_ball" && tip_mm == 0) tip->Fail("= 0 must be > 0: write the radius of the ball at the tip");
  CutterOutline outline = RoundTipConeOutline(d, angle_rad, tip_mm);
  outline.shape = shape;
  return outline;
}

}  // namespace

CutterOutline ReadOutline(const YamlMap& map, const std::string& shape) {
  RefuseStrangers(map, shape);
  try {
    if (shape == "outline") {
      return ReadListed(map.At("outline", "list the outline, [{to: [r, z]}, {to: [r, z], arc_centre: [r, z]}, ..]"));
    }
    if (shape == "seven_parameters") {
      return ReadSevenParameters(map.At("parameters", "write [d, r, e, f, alpha, beta, h] as in the CUTTER statement"));
    }
    OutlineDimensions d;
    d.diameter_mm = Positive_mm(map, "diameter", "write the cutting diameter of the bit");
    d.height_mm = Positive_mm(map, "flute_length", "write the cutting length of the bit");
    if (shape == "ball") return BallOutline(d);
    if (shape == "flat") return FlatOutline(d);
    if (shape == "bull_nose") return BullNoseOutline(d, Positive_mm(map, "corner_radius", "write the radius of the corner"));
    return ReadCone(map, shape, d);
  } catch (const std::invalid_argument& error) {
    map.value().Fail(fmt::format("does not describe a cutter of shape {} ({}): mend the value", shape, error.what()));
  }
}

}  // namespace aircut::sim
