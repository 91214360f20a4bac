#include "sim/cell_yaml.h"
#include "sim/job_parts.h"
#include "sim/mesh_import.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;

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

}  // namespace

Design ReadDesign(const YamlValue& value, const JobContext& context) {
  const YamlMap map = value.Map({"mesh", "at", "depth_below_stock", "image", "depth"});
  if (const auto image = map.Find("image")) {
    image->Fail("is not computed yet: give design: {mesh: ..} or {depth_below_stock: ..}");
  }
  map.Refuse({"depth"}, "goes with image only: write depth_below_stock if that is meant");
  Design design;
  const auto depth = map.Find("depth_below_stock");
  const auto name = map.Find("mesh");
  if (depth.has_value() == name.has_value()) {
    value.Fail("must have one of mesh and depth_below_stock: write the one that is meant");
  }
  if (depth) {
    map.Refuse({"at"}, "goes with mesh only: take it out");
    design.depth_below_stock_mm = depth->Length_mm(Bound::Positive("write the depth of the engraving", 1000));
    return design;
  }
  const Pose X_SD = ReadAt(map);
  const Mesh mesh = ReadMesh(context.files.Take(*name, context.place, "design"), value.file().units.length_mm);
  RequirePlausibleSize(*name, mesh);
  if (!(Inspect(mesh).area_mm2 > 0)) name->Fail("has no area: export a surface");
  design.mesh_S = std::make_shared<const MeshIndex>(Transformed(mesh, X_SD));
  return design;
}

Material ReadMaterial(const YamlValue& value) {
  const YamlMap map = value.Map({"name", "cutting_force_n_mm2", "edge_force_n_mm", "band", "source"});
  for (const char* unused : {"cutting_force_n_mm2", "edge_force_n_mm", "band"}) map.FindUnused(unused);
  Material material;
  material.name = map.At("name", "write the name of the material").Text();
  if (const auto cutting = map.Find("cutting_force_n_mm2")) material.cutting_force_n_mm2 = ReadTriple(*cutting);
  if (const auto edge = map.Find("edge_force_n_mm")) material.edge_force_n_mm = ReadTriple(*edge);
  if (const auto band = map.Find("band")) {
    material.band = band->Number(Bound::Within(0, 10, "write the band as a part of the value, such as 0.5"));
  }
  if (const auto source = map.Find("source")) material.source = source->Text();
  return material;
}

}  // namespace aircut::sim
