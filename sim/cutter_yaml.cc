#include <fmt/format.h>

#include "sim/cell_yaml.h"

namespace aircut::sim {
namespace {

constexpr double kMaxCutter_mm = 1000.0;

const YamlKeys& CutterKeys() {
  static const YamlKeys keys = {"shape", "diameter", "angle", "tip_radius", "tip_flat", "corner_radius", "parameters", "outline",
                                "flutes", "flute_length", "shank_diameter", "stick_out", "holder", "chip_load", "control_point",
                                "hand", "centre_cutting", "rpm_limit", "modulus_gpa", "strength_mpa", "measured"};
  return keys;
}

double Positive_mm(const YamlValue& value, const std::string& mend) {
  return value.Length_mm(Bound::Positive(mend, kMaxCutter_mm));
}

void ReadHolder(const YamlValue& value, CellCutter& cutter) {
  cutter.holder_said = value.IsNone() ? Declared::kNone : Declared::kGiven;
  if (value.IsNone()) return;
  double z_mm = cutter.stick_out_mm;
  for (const YamlValue& item : value.ItemsOrNone()) {
    const YamlMap map = item.Map({"diameter", "length"});
    const double diameter_mm =
        Positive_mm(map.At("diameter", "write the diameter of this step of the holder"), "write the diameter");
    const double length_mm =
        Positive_mm(map.At("length", "write the length of this step of the holder"), "write the length");
    cutter.holder.push_back({z_mm, z_mm + length_mm, diameter_mm / 2});
    z_mm += length_mm;
  }
}

// Radius of the arc at the tip end, which is that of its ball.
double TipRadius_mm(const CutterOutline& outline) {
  const bool is_round = !outline.pieces.empty() && outline.pieces.front().arc;
  return is_round ? outline.pieces.front().centre.y() : 0.0;
}

// Where the two edges of a cone would meet, above the tip end: 0 or negative.
double SharpApex_mm(const CutterOutline& outline) {
  for (const OutlinePiece& piece : outline.pieces) {
    const Eigen::Vector2d along = piece.to - piece.from;
    if (!piece.arc && along.y() > 0) return piece.from.y() - piece.from.x() * along.y() / along.x();
  }
  return 0.0;
}

double ControlHeight_mm(const YamlValue& value, const CutterOutline& outline) {
  const std::string word = value.Word({"tip_end", "ball_centre", "sharp_apex"});
  if (word == "tip_end") return 0.0;
  const std::string& shape = outline.shape;
  if (word == "sharp_apex" && shape == "v") return SharpApex_mm(outline);
  if (word == "ball_centre" && (shape == "ball" || shape == "tapered_ball")) return TipRadius_mm(outline);
  value.Fail(fmt::format("= {} does not go with shape {}: write {}", word, shape,
                         shape == "v"                                  ? "tip_end or sharp_apex"
                         : shape == "ball" || shape == "tapered_ball" ? "tip_end or ball_centre"
                                                                       : "tip_end"));
}

// The cut takes a ball as it was measured, so its flutes must reach its equator.
void RequireFlutesFor(const YamlValue& diameter, const CellCutter& cutter) {
  const double needed_mm = *cutter.measured_diameter_mm / 2.0;
  if (cutter.cutter.outline().shape != "ball" || cutter.cutter.flute_length_mm() >= needed_mm) return;
  diameter.Fail(fmt::format("= {:.6g} mm asks for flutes of {:.6g} mm, flute_length is {:.6g} mm: mend one of the two",
                            *cutter.measured_diameter_mm, needed_mm, cutter.cutter.flute_length_mm()));
}

void ReadMeasured(const YamlMap& map, CellCutter& cutter) {
  cutter.measured_stick_out_mm = cutter.stick_out_mm;
  const auto measured = map.Find("measured");
  if (!measured) return;
  const YamlMap values = measured->Map({"stick_out", "diameter", "by"});
  const auto stick_out = values.Find("stick_out");
  const auto diameter = values.Find("diameter");
  if (!stick_out && !diameter) measured->Fail("has no value: write stick_out, diameter or both as measured");
  if (stick_out) {
    cutter.measured_stick_out_mm = Positive_mm(*stick_out, "write the measured length from the collet nut to the tip");
    cutter.measured = true;
  }
  if (diameter) {
    cutter.measured_diameter_mm = Positive_mm(*diameter, "write the measured cutting diameter");
    RequireFlutesFor(*diameter, cutter);
  }
  if (const auto by = values.Find("by")) cutter.measured_by = by->Text();
}

void ReadStack(const YamlMap& map, CellCutter& cutter) {
  cutter.shank_diameter_mm = Positive_mm(map.At("shank_diameter", "write the diameter of the shank"),
                                         "write the diameter of the shank");
  const YamlValue stick_out = map.At("stick_out", "write the length from the collet nut to the tip");
  cutter.stick_out_mm = Positive_mm(stick_out, "write the length from the collet nut to the tip");
  if (!(cutter.stick_out_mm >= cutter.cutter.flute_length_mm())) {
    stick_out.Fail(fmt::format("= {:.6g} mm must be >= flute_length = {:.6g} mm: the flutes end below the "
                               "collet nut, mend one of the two",
                               cutter.stick_out_mm, cutter.cutter.flute_length_mm()));
  }
  ReadHolder(map.At("holder", "list collet nut and holder from the nose up, [{diameter:, length:}, ..], or write none"),
             cutter);
}

CellCutter::ChipLoad ReadChipLoad(const YamlValue& value) {
  const std::vector<YamlValue> ends = value.Items(2);
  const Bound bound = Bound::Positive("write the least and the largest feed per tooth, such as [0.02, 0.10]", 10);
  const CellCutter::ChipLoad chip{ends[0].Length_mm(bound), ends[1].Length_mm(bound)};
  if (!(chip.most_mm > chip.least_mm)) value.Fail("must rise: write the least feed per tooth first, then the largest");
  return chip;
}

CellCutter ReadCutter(const YamlMap& map, const std::string& shape) {
  CellCutter cutter;
  cutter.cutter = Cutter::Of(ReadOutline(map, shape));
  cutter.flutes = map.At("flutes", "write the number of cutting edges")
                      .Integer(1, 50, "write the number of cutting edges");
  ReadStack(map, cutter);
  cutter.control_height_mm = ControlHeight_mm(
      map.At("control_point", "write tip_end, ball_centre or sharp_apex: the point that the path gives"),
      cutter.cutter.outline());
  cutter.right_handed = map.At("hand", "write hand: right or hand: left").Word({"right", "left"}) == "right";
  if (const auto centre = map.Find("centre_cutting")) cutter.centre_cutting = centre->Word({"yes", "no"}) == "yes";
  if (const auto limit = map.Find("rpm_limit")) {
    cutter.rpm_limit = limit->Number(Bound::Positive("write the highest permitted speed in rpm", 1e6));
  }
  if (const auto chip = map.Find("chip_load")) cutter.chip_load = ReadChipLoad(*chip);
  if (const auto modulus = map.Find("modulus_gpa")) {
    cutter.modulus_gpa = modulus->Number(Bound::Positive("write Young's modulus in GPa, such as 600 for carbide", 2000));
  }
  if (const auto strength = map.Find("strength_mpa")) {
    cutter.strength_mpa =
        strength->Number(Bound::Positive("write the stress at which it breaks in bending, such as 3000 for carbide", 20000));
  }
  ReadMeasured(map, cutter);
  return cutter;
}

}  // namespace

void ReadCutters(const YamlValue& cutters, Cell& cell) {
  const auto entries = cutters.NumberedEntries(1, 9999, "write cutters: {1: {shape: ball, ..}}");
  for (const auto& [number, value] : entries) {
    const YamlMap map = value.Map(CutterKeys());
    const std::string shape = map.At("shape", "write ball, flat, bull_nose, v, tapered_ball, seven_parameters or outline")
                                  .Word({"ball", "flat", "bull_nose", "v", "tapered_ball", "seven_parameters", "outline"});
    CellCutter cutter = ReadCutter(map, shape);
    cutter.number = number;
    cell.cutters.emplace(number, std::move(cutter));
  }
  if (entries.empty()) cutters.Fail("is empty: describe at least one cutter");
}

}  // namespace aircut::sim
