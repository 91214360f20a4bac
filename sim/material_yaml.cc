#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/force_laws.h"
#include "sim/job_parts.h"
#include "sim/slot_test.h"

namespace aircut::sim {
namespace {

// One number is the force along the cut.
EdgeTriple ReadTriple(const YamlValue& value) {
  const Bound bound = Bound::Within(0, 1e5, "write the coefficient");
  EdgeTriple triple;
  if (!value.IsMap()) {
    triple.tangential = value.Number(bound);
    return triple;
  }
  const YamlMap map = value.Map({"tangential", "radial", "axial"});
  const auto read = [&](const char* key) -> std::optional<double> {
    const auto given = map.Find(key);
    if (!given) return std::nullopt;
    return given->Number(bound);
  };
  triple = {read("tangential"), read("radial"), read("axial")};
  if (!triple.tangential) value.Fail("has no tangential part: write tangential, the force along the cut");
  return triple;
}

constexpr double kMostChip_mm = 10.0;

constexpr double kMostOff = 0.3;   // past this the band of the law would say little

void ReadKienzle(const YamlValue& value, Material& material) {
  const YamlMap map = value.Map({"kc11_n_mm2", "mc", "chip"});
  KienzleLaw law;
  law.kc11_n_mm2 = map.At("kc11_n_mm2", "write the specific force at a chip of 1 mm by 1 mm")
                       .Number(Bound::Positive("write the specific force at a chip of 1 mm by 1 mm", 1e5));
  law.mc = map.At("mc", "write the exponent by which it falls with the chip").Number(Bound::Within(0, 0.9, "write the exponent, such as 0.26"));
  const YamlValue chip = map.At("chip", "write the thinnest and the thickest chip for which the law is to hold, such as [0.02, 0.2]");
  const std::vector<YamlValue> ends = chip.Items(2);
  const Bound bound = Bound::Positive("write the thinnest and the thickest chip", kMostChip_mm);
  law.thin_mm = ends[0].Length_mm(bound);
  law.thick_mm = ends[1].Length_mm(bound);
  if (!(law.thick_mm > law.thin_mm)) chip.Fail("must rise: write the thinnest chip first, then the thickest");
  const EdgeLine line = law.Line();
  if (line.off > kMostOff) {
    chip.Fail(fmt::format("spans chips over which a straight line leaves the law by {:.0f} %, must be {:.0f} % or less: write "
                          "the chips of this job", 100 * line.off, 100 * kMostOff));
  }
  material.cutting_force_n_mm2.tangential = line.cutting_n_mm2;
  material.edge_force_n_mm.tangential = line.edge_n_mm;
  material.law_off = line.off;
}

void ReadOrthogonal(const YamlValue& value, Material& material) {
  constexpr double kRight_rad = 0.5 * kinematics::kPi;
  const YamlMap map = value.Map({"shear_stress_n_mm2", "friction", "rake"});
  MerchantLaw law;
  law.shear_stress_n_mm2 = map.At("shear_stress_n_mm2", "write the shear stress in the shear plane")
                               .Number(Bound::Positive("write the shear stress in the shear plane", 1e4));
  law.friction = map.At("friction", "write the coefficient of friction on the rake face").Number(Bound::Within(0, 5, "write the coefficient of friction"));
  law.rake_rad = map.At("rake", "write the rake angle of the edge").Angle_rad(Bound::Within(-0.5 * kRight_rad, 0.9 * kRight_rad, "write the rake angle of the edge"));
  if (law.thrust_n_mm2() < 0.0) {
    value.Fail("has more rake than friction holds, so that the edge is pulled in: write cutting_force_n_mm2 from a test in its place");
  }
  material.cutting_force_n_mm2.tangential = law.cutting_n_mm2();
  material.cutting_force_n_mm2.radial = law.thrust_n_mm2();
}

// The coefficients themselves, or a law that gives them.
void ReadForces(const YamlMap& map, Material& material) {
  const auto cutting = map.Find("cutting_force_n_mm2"), kienzle = map.Find("kienzle"), orthogonal = map.Find("orthogonal");
  const auto edge = map.Find("edge_force_n_mm");
  for (const auto& law : {kienzle, orthogonal}) {
    if (law && (cutting || (kienzle && orthogonal))) {
      law->Fail("gives the cutting force: write one of cutting_force_n_mm2, kienzle and orthogonal");
    }
  }
  if (cutting) material.cutting_force_n_mm2 = ReadTriple(*cutting);
  if (kienzle) ReadKienzle(*kienzle, material);
  if (orthogonal) ReadOrthogonal(*orthogonal, material);
  if (!edge) return;
  if (kienzle) edge->Fail("is in kienzle already: take it out");
  if (!cutting && !orthogonal) edge->Fail("goes with cutting_force_n_mm2 only: write that as well, or take it out");
  material.edge_force_n_mm = ReadTriple(*edge);
}

ChipRange ReadChipRange(const YamlValue& value) {
  const YamlMap map = value.Map({"diameter", "per_tooth"});
  const YamlValue per_tooth = map.At("per_tooth", "write the least and the largest feed per tooth, such as [0.05, 0.13]");
  const std::vector<YamlValue> ends = per_tooth.Items(2);
  const Bound bound = Bound::Positive("write the least and the largest feed per tooth", kMostChip_mm);
  ChipRange range;
  range.diameter_mm = map.At("diameter", "write the diameter of the cutter")
                          .Length_mm(Bound::Positive("write the diameter of the cutter", 1000));
  range.least_mm = ends[0].Length_mm(bound);
  range.most_mm = ends[1].Length_mm(bound);
  if (!(range.most_mm > range.least_mm)) per_tooth.Fail("must rise: write the least feed per tooth first, then the largest");
  return range;
}

void ReadChipLoads(const YamlValue& value, Material& material) {
  const YamlMap map = value.Map({"by_diameter", "source"});
  material.chip_load_source = map.At("source", "write where the feeds per tooth are printed").Text();
  const YamlValue rows = map.At("by_diameter", "write [{diameter:, per_tooth: [least, most]}, ..]");
  for (const YamlValue& item : rows.Items()) {
    const ChipRange range = ReadChipRange(item);
    if (!material.chip_load.empty() && !(range.diameter_mm > material.chip_load.back().diameter_mm)) {
      item.Fail(fmt::format("comes after {:.6g} mm, must rise: list the cutters by rising diameter",
                            material.chip_load.back().diameter_mm));
    }
    material.chip_load.push_back(range);
  }
  if (material.chip_load.empty()) rows.Fail("is empty: write at least one diameter, or take chip_load out");
}

}  // namespace

const YamlKeys& MaterialKeys() {
  static const YamlKeys keys = {"name", "cutting_force_n_mm2", "edge_force_n_mm", "kienzle", "orthogonal", "band", "source", "chip_load"};
  return keys;
}

Material ReadMaterial(const YamlMap& map) {
  Material material;
  material.name = map.At("name", "write the name of the material").Text();
  ReadForces(map, material);
  if (const auto band = map.Find("band")) {
    material.band = band->Number(Bound::Within(0, 10, "write the band as a part of the value, such as 0.5"));
  }
  if (const auto source = map.Find("source")) material.source = source->Text();
  if (const auto chip = map.Find("chip_load")) ReadChipLoads(*chip, material);
  return material;
}

void ReadSlotTest(const YamlValue& value, const JobContext& context, const Cell& cell, Material& material) {
  const YamlMap map = value.Map({"file", "cutter"});
  const YamlValue name = map.At("file", "write the name of the table of the test");
  const YamlValue number = map.At("cutter", "write the number of the cutter that cut the slots");
  const auto found = cell.cutters.find(number.Integer(1, 9999, "write the number of a cutter of the cell"));
  if (found == cell.cutters.end()) number.Fail("is no cutter of the cell: write one of its numbers");
  const auto file = context.files.Take(name, context.place, "slot test");
  const SlotFit fit = FitSlotTest(file.string(), ReadSlotTable(file, found->second.cutter.outline().height_mm), found->second);
  material.cutting_force_n_mm2 = fit.cutting_n_mm2;
  material.edge_force_n_mm = fit.edge_n_mm;
  material.law_off = 0.0;
  if (!material.band) material.band = fit.band;
  material.source = fmt::format("slot test {}: {} rows, residual {:.3g} N of {:.3g} N", context.files.NameOf(file), fit.rows,
                                fit.residual_n, fit.force_n);
}

}  // namespace aircut::sim
