#include <algorithm>
#include <charconv>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/cell_yaml.h"

namespace aircut::sim {
namespace {

constexpr double kMaxCutter_mm = 1000.0;

const YamlKeys& CutterKeys() {
  static const YamlKeys keys = {
      {"shape", "diameter", "angle", "tip_radius", "flutes", "flute_length", "shank_diameter", "stick_out",
       "holder", "control_point", "hand", "rpm_limit", "measured"},
      {"modulus_gpa", "tip_flat", "corner_radius", "outline"}};
  return keys;
}

int NumberOfCutter(const std::string& key, const YamlValue& value) {
  int number = 0;
  const auto [end, error] = std::from_chars(key.data(), key.data() + key.size(), number);
  if (error != std::errc() || end != key.data() + key.size() || number < 1 || number > 9999) {
    value.Fail("must be named by a whole number from 1 to 9999: write cutters: {1: {..}}");
  }
  return number;
}

// A key of another shape is a slip of the pen that would go unseen.
void RefuseKey(const YamlMap& map, std::string_view key, std::string_view shape) {
  if (const auto stray = map.Find(key)) {
    stray->Fail(fmt::format("does not go with shape {}: take it out or mend the shape", shape));
  }
}

Cutter ReadEnvelope(const YamlMap& map, const std::string& shape) {
  const double diameter_mm =
      map.At("diameter", "write the cutting diameter of the bit")
          .Length_mm(Bound::Positive("write the cutting diameter of the bit", kMaxCutter_mm));
  const double flute_mm = map.At("flute_length", "write the cutting length of the bit")
                              .Length_mm(Bound::Positive("write the cutting length of the bit", kMaxCutter_mm));
  for (const char* key : {"tip_flat", "corner_radius", "outline"}) RefuseKey(map, key, shape);
  try {
    if (shape == "ball") {
      for (const char* key : {"angle", "tip_radius"}) RefuseKey(map, key, shape);
      return Cutter::Ball(diameter_mm, flute_mm);
    }
    Bound between = Bound::Positive("write the full angle between the two edges", kinematics::kPi);
    const double angle_rad = map.At("angle", "write the full angle between the two edges").Angle_rad(between);
    const double tip_mm = map.At("tip_radius", "write the radius of the tip, 0 for a sharp one")
                              .Length_mm(Bound::Within(0, kMaxCutter_mm, "write the radius of the tip"));
    return Cutter::V(angle_rad, tip_mm, diameter_mm, flute_mm);
  } catch (const std::invalid_argument& error) {
    map.value().Fail(fmt::format("does not describe a {} cutter ({}): mend the value", shape, error.what()));
  }
}

void ReadHolder(const YamlValue& value, CellCutter& cutter) {
  if (value.IsNone()) return;
  double z_mm = cutter.stick_out_mm;
  for (const YamlValue& item : value.Items()) {
    const YamlMap map = item.Map({{"diameter", "length"}, {}});
    const double diameter_mm = map.At("diameter", "write the diameter of this step of the holder")
                                   .Length_mm(Bound::Positive("write the diameter", kMaxCutter_mm));
    const double length_mm = map.At("length", "write the length of this step of the holder")
                                 .Length_mm(Bound::Positive("write the length", kMaxCutter_mm));
    cutter.holder.push_back({z_mm, z_mm + length_mm, diameter_mm / 2});
    z_mm += length_mm;
  }
}

double ControlHeight_mm(const YamlValue& value, const Cutter& cutter) {
  const std::string word = value.Word({"tip_end", "ball_centre", "sharp_apex"});
  if (word == "tip_end") return 0.0;
  const bool is_v = cutter.shape() == CutterShape::kV;
  if (word == "sharp_apex") {
    if (!is_v) value.Fail("= sharp_apex does not go with shape ball: write tip_end or ball_centre");
    return cutter.sharp_apex_mm();
  }
  if (is_v) value.Fail("= ball_centre does not go with shape v: write tip_end or sharp_apex");
  return cutter.ball_centre_mm();
}

void ReadMeasured(const YamlMap& map, CellCutter& cutter) {
  cutter.measured_stick_out_mm = cutter.stick_out_mm;
  const auto measured = map.Find("measured");
  if (!measured) return;
  const YamlMap values = measured->Map({{"stick_out"}, {"diameter", "by"}});
  const auto stick_out = values.Find("stick_out");
  if (!stick_out) return;
  cutter.measured_stick_out_mm =
      stick_out->Length_mm(Bound::Positive("write the measured length from the collet nut to the tip", kMaxCutter_mm));
  cutter.measured = true;
}

CellCutter ReadCutter(const YamlMap& map, const std::string& shape) {
  CellCutter cutter;
  cutter.cutter = ReadEnvelope(map, shape);
  cutter.flutes = map.At("flutes", "write the number of cutting edges")
                      .Integer(1, 50, "write the number of cutting edges");
  cutter.shank_diameter_mm = map.At("shank_diameter", "write the diameter of the shank")
                                 .Length_mm(Bound::Positive("write the diameter of the shank", kMaxCutter_mm));
  const YamlValue stick_out = map.At("stick_out", "write the length from the collet nut to the tip");
  cutter.stick_out_mm = stick_out.Length_mm(
      Bound::Positive("write the length from the collet nut to the tip", kMaxCutter_mm));
  if (!(cutter.stick_out_mm >= cutter.cutter.flute_length_mm())) {
    stick_out.Fail(fmt::format("= {:.6g} mm must be >= flute_length = {:.6g} mm: the flutes end below the "
                               "collet nut, mend one of the two",
                               cutter.stick_out_mm, cutter.cutter.flute_length_mm()));
  }
  ReadHolder(map.At("holder", "list collet nut and holder from the nose up, [{diameter:, length:}, ..], or write none"),
             cutter);
  cutter.control_height_mm = ControlHeight_mm(
      map.At("control_point", "write tip_end, ball_centre or sharp_apex: the point that the path gives"),
      cutter.cutter);
  cutter.right_handed = map.At("hand", "write hand: right or hand: left").Word({"right", "left"}) == "right";
  if (const auto limit = map.Find("rpm_limit")) {
    cutter.rpm_limit = limit->Number(Bound::Positive("write the highest permitted speed in rpm", 1e6));
  }
  ReadMeasured(map, cutter);
  return cutter;
}

}  // namespace

void ReadCutters(const YamlValue& cutters, LoadedCell& loaded) {
  if (!cutters.IsMap()) cutters.Fail("must be a map: write cutters: {1: {shape: ball, ..}}");
  for (const auto& [name, child] : cutters.node().entries) {
    const YamlValue value(cutters.file(), child, cutters.path() + "." + name);
    const int number = NumberOfCutter(name, value);
    YamlFile& file = cutters.file();
    const std::size_t noted = file.unused.size();
    const YamlMap map = value.Map(CutterKeys());
    const std::string shape = map.At("shape", "write ball or v")
                                  .Word({"ball", "v", "flat", "bull_nose", "tapered_ball", "outline"});
    if ((shape == "ball" || shape == "v") && !map.Has("tip_flat")) {
      CellCutter cutter = ReadCutter(map, shape);
      cutter.number = number;
      loaded.cell.cutters.emplace(number, std::move(cutter));
    } else {
      file.unused.resize(noted);   // one note for the cutter instead of its keys
      value.NoteUnused();
      loaded.uncomputed_cutters.emplace(number, shape == "v" ? "v with tip_flat" : shape);
    }
  }
  if (loaded.cell.cutters.empty() && loaded.uncomputed_cutters.empty()) {
    cutters.Fail("is empty: describe at least one cutter");
  }
}

}  // namespace aircut::sim
