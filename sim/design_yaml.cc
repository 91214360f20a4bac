#include <utility>

#include <fmt/format.h>

#include "sim/cell_yaml.h"
#include "sim/job_parts.h"
#include "sim/mesh_import.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;

// Depths at white and at black.
void ReadDepths(const YamlMap& map, ImageDesign& design) {
  const YamlValue depth = map.At("depth", "write [depth at white, depth at black]");
  const std::vector<YamlValue> ends = depth.Items(2);
  const Bound bound = Bound::Within(0, 1000, "write the depth below the uncut face");
  design.white_mm = ends[0].Length_mm(bound);
  design.black_mm = ends[1].Length_mm(bound);
  if (design.white_mm == design.black_mm) depth.Fail("has the same depth at white and at black, must differ: mend one");
}

void ReadMask(const YamlValue& mask, const JobContext& context, ImageDesign& design) {
  design.mask = ReadGreyPng(context.files.Take(mask, context.place, "mask"));
  if (design.mask->most() < 0.5F) {
    mask.Fail(fmt::format("= {} covers everything, no place of it is lighter than half: leave white what may be carved",
                          mask.Text()));
  }
}

std::shared_ptr<const ImageDesign> ReadImage(const YamlMap& map, const JobContext& context, const MeshIndex& stock_S) {
  const YamlValue name = map.At("image", "write the name of the picture");
  ImageDesign design;
  design.image = ReadGreyPng(context.files.Take(name, context.place, "design"));
  if (design.image.least() == design.image.most()) {
    name.Fail(fmt::format("= {} is of one grey, so no shape is in it: export the picture of depths", name.Text()));
  }
  ReadDepths(map, design);
  design.X_SD = ReadAt(map);
  design.width_mm = map.At("width", "write how wide the picture is on the piece").Length_mm(
      Bound::Positive("write how wide the picture is on the piece", 20000));
  design.height_mm = design.width_mm * design.image.height / design.image.width;
  if (const auto mask = map.Find("mask")) ReadMask(*mask, context, design);
  if (FitOf(design, stock_S).missed >= 1.0) {
    name.Fail(fmt::format("= {} meets the stock nowhere: mend design.at, its lower left corner with z towards who looks "
                          "at it, or design.width", name.Text()));
  }
  return std::make_shared<const ImageDesign>(std::move(design));
}

}  // namespace

Design ReadDesign(const YamlValue& value, const JobContext& context, const Job& job) {
  const YamlMap map = value.Map({"mesh", "at", "depth_below_stock", "image", "depth", "width", "mask"});
  const auto depth = map.Find("depth_below_stock");
  const auto name = map.Find("mesh");
  const auto image = map.Find("image");
  if ((depth ? 1 : 0) + (name ? 1 : 0) + (image ? 1 : 0) != 1) {
    value.Fail("must have one of mesh, image and depth_below_stock: write the one that is meant");
  }
  if (!image) map.Refuse({"depth", "width", "mask"}, "goes with image only: write depth_below_stock if that is meant");
  Design design;
  if (image) {
    design.image = ReadImage(map, context, *job.stock_S);
    return design;
  }
  if (depth) {
    map.Refuse({"at"}, "goes with mesh and image only: take it out");
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

}  // namespace aircut::sim
