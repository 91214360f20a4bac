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

// Where the picture lies by the texture coordinates of a surface.
void ReadMap(const YamlValue& name, const JobContext& context, ImageDesign& design) {
  auto map = std::make_shared<TextureMap>(ReadTextureMap(context.files.Take(name, context.place, "map"), name.file().units.length_mm));
  for (Eigen::Vector3d& p : map->mesh_S.vertices) p = design.X_SD * p;
  RequirePlausibleSize(name, map->mesh_S);
  const TextureFit fit = FitOf(*map);
  const auto percent = [](double part) { return fmt::format("{:.2g} %", 100.0 * part); };
  if (fit.mirrored >= 1.0) {
    name.Fail(fmt::format("= {} lays the picture mirrored over the whole surface: turn u round, or the faces' sides",
                          name.Text()));
  }
  if (fit.mirrored > 0.0 || fit.twice > 0.0) {
    name.Fail(fmt::format("= {} is folded: on {} of the surface the picture lies mirrored, on {} a place of the picture "
                          "comes twice: unfold the texture coordinates", name.Text(), percent(fit.mirrored), percent(fit.twice)));
  }
  if (fit.flat > 0.0) {
    name.Fail(fmt::format("= {} has no area in the picture on {} of the surface: lay out its texture coordinates anew",
                          name.Text(), percent(fit.flat)));
  }
  if (fit.outside >= 1.0) {
    name.Fail(fmt::format("= {} lies beside the picture, which goes from 0 to 1 in u and v: scale the texture "
                          "coordinates", name.Text()));
  }
  design.map_S = std::move(map);
}

// What width gives a projected picture, the map gives by itself.
void ReadPlacing(const YamlMap& map, const JobContext& context, ImageDesign& design) {
  design.X_SD = ReadAt(map);
  if (const auto surface = map.Find("map")) {
    map.Refuse({"width"}, "does not go with map, whose texture coordinates say how wide the picture is: take it out");
    return ReadMap(*surface, context, design);
  }
  design.width_mm = map.At("width", "write how wide the picture is on the piece, or map, a surface with texture coordinates")
                        .Length_mm(Bound::Positive("write how wide the picture is on the piece", 20000));
  design.height_mm = design.width_mm * design.image.height / design.image.width;
}

std::shared_ptr<const ImageDesign> ReadImage(const YamlMap& map, const JobContext& context, const MeshIndex& stock_S) {
  const YamlValue name = map.At("image", "write the name of the picture");
  ImageDesign design;
  design.image = ReadGreyPng(context.files.Take(name, context.place, "design"));
  if (design.image.least() == design.image.most()) {
    name.Fail(fmt::format("= {} is of one grey, so no shape is in it: export the picture of depths", name.Text()));
  }
  ReadDepths(map, design);
  ReadPlacing(map, context, design);
  if (const auto mask = map.Find("mask")) ReadMask(*mask, context, design);
  if (FitOf(design, stock_S).missed >= 1.0) {
    name.Fail(fmt::format("= {} meets the stock nowhere: mend design.at, {}", name.Text(),
                          design.map_S ? "which moves the surface of design.map onto the stock's face"
                                       : "its lower left corner with z towards who looks at it, or design.width"));
  }
  return std::make_shared<const ImageDesign>(std::move(design));
}

// Of an open surface no one can say which side of its rim is material.
void RequireSolid(const YamlValue& name, const MeshReport& report) {
  if (!(report.area_mm2 > 0)) name.Fail("has no area: export a surface");
  if (report.open_edges > 0) {
    name.Fail(fmt::format("= {} is open, {} of its edges have a face on one side only: close it, so that it is the whole "
                          "piece after carving", name.Text(), report.open_edges));
  }
  if (report.closed && report.volume_mm3 < 0) {
    name.Fail(fmt::format("= {} is inside out: turn its faces round, counter-clockwise seen from outside", name.Text()));
  }
}

void RequireOverlap(const YamlValue& name, const Eigen::AlignedBox3d& design, const Eigen::AlignedBox3d& stock) {
  if (design.intersects(stock)) return;
  name.Fail(fmt::format("= {} lies {:.4g} mm beside the stock: mend design.at, or the units of either mesh", name.Text(),
                        design.exteriorDistance(stock)));
}

}  // namespace

Design ReadDesign(const YamlValue& value, const JobContext& context, const Job& job) {
  const YamlMap map = value.Map({"mesh", "at", "depth_below_stock", "image", "depth", "width", "mask", "map"});
  const auto depth = map.Find("depth_below_stock");
  const auto name = map.Find("mesh");
  const auto image = map.Find("image");
  if ((depth ? 1 : 0) + (name ? 1 : 0) + (image ? 1 : 0) != 1) {
    value.Fail("must have one of mesh, image and depth_below_stock: write the one that is meant");
  }
  if (!image) map.Refuse({"depth", "width", "mask", "map"}, "goes with image only: write depth_below_stock if that is meant");
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
  RequireSolid(*name, Inspect(mesh));
  design.mesh_S = std::make_shared<const MeshIndex>(Transformed(mesh, X_SD));
  RequireOverlap(*name, design.mesh_S->box(), job.stock_S->box());
  return design;
}

}  // namespace aircut::sim
