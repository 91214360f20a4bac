// How long the arm runs on, and what senses a person: for least distances.
#include <fmt/format.h>

#include "sim/cell_yaml.h"

namespace aircut::sim {
namespace {

using Kind = ProtectiveDevice::Kind;

constexpr double kLongestStop_s = 60.0;
constexpr double kCoarsestCurtain_mm = 70.0;   // ISO 13855: beyond it a field counts as beams
constexpr double kCoarsestScanner_mm = 150.0;
constexpr double kHighestScanner_mm = 1000.0;  // ISO 13855; external-checks SAF-08

Kind KindOf(const YamlValue& value) {
  const std::string word = value.Word({"light_curtain", "beams", "scanner"});
  return word == "beams" ? Kind::kBeams : word == "scanner" ? Kind::kScanner : Kind::kLightCurtain;
}

// A person must not slip through under a field that is coarse: H >= 15 (d - 50).
// Source: ISO 13855; external-checks SAF-08.
void RequireScannerHeight(const YamlMap& map, ProtectiveDevice& device) {
  const YamlValue height = map.At("height", "write the height of the field above the floor");
  device.height_mm = height.Length_mm(Bound::Within(0, kHighestScanner_mm, "write the height of the field above the floor, at most 1000 mm"));
  const double least_mm = 15.0 * (device.resolution_mm - 50.0);
  if (device.height_mm < least_mm) {
    height.Fail(fmt::format("= {:g} mm must be at least 15 (resolution - 50 mm) = {:g} mm, or a person may slip under it: "
                            "raise the field, or write a finer resolution", device.height_mm, least_mm));
  }
}

ProtectiveDevice ReadDevice(const YamlValue& value) {
  const YamlMap map = value.Map({"kind", "name", "response_s", "resolution", "beams", "height"});
  ProtectiveDevice device;
  device.kind = KindOf(map.At("kind", "write light_curtain, beams or scanner"));
  device.name = map.At("name", "write a name for the device").Text();
  device.response_s = map.At("response_s", "write the device's own time from sensing to its order, in seconds")
                          .Number(Bound::Within(0, kLongestStop_s, "write the device's response time in seconds"));
  if (device.kind != Kind::kScanner) map.Refuse({"height"}, "goes with kind scanner only: take it out");
  if (device.kind == Kind::kBeams) {
    map.Refuse({"resolution"}, "goes with kinds light_curtain and scanner only: take it out");
    device.beams = map.At("beams", "write how many beams, 1 to 4").Integer(1, 4, "write how many beams, 1 to 4");
    return device;
  }
  map.Refuse({"beams"}, "goes with kind beams only: take it out");
  const double coarsest_mm = device.kind == Kind::kScanner ? kCoarsestScanner_mm : kCoarsestCurtain_mm;
  device.resolution_mm = map.At("resolution", "write the smallest thing that the device surely sees, such as 14 mm")
                             .Length_mm(Bound::Positive("write the smallest thing that the device surely sees, such as 14 mm", coarsest_mm));
  if (device.kind == Kind::kScanner) RequireScannerHeight(map, device);
  return device;
}

}  // namespace

Stopping ReadStopping(const YamlValue& value) {
  const YamlMap map = value.Map({"measured_s", "by", "devices"});
  Stopping stopping;
  stopping.measured_s = map.At("measured_s", "write how long the arm was measured to run on after the order to stop, in seconds")
                            .Number(Bound::Positive("write the measured stop time in seconds", kLongestStop_s));
  stopping.by = map.At("by", "write how and when it was measured").Text();
  for (const YamlValue& item : map.At("devices", "list the protective devices, [{kind: light_curtain, ..}]").Items()) {
    stopping.devices.push_back(ReadDevice(item));
  }
  return stopping;
}

}  // namespace aircut::sim
