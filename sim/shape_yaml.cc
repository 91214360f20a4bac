#include <fmt/format.h>

#include "sim/cell_yaml.h"
#include "sim/convex_mesh.h"
#include "sim/mesh_import.h"

namespace aircut::sim {
namespace {

constexpr double kSmallestMesh_mm = 2.0;
constexpr double kLargestMesh_mm = 20'000.0;

struct RoundShape {
  Eigen::Vector3d from, to;
  double radius_mm = 0;
};

RoundShape ReadRound(const YamlValue& value) {
  const YamlMap map = value.Map({"from", "to", "radius"});
  RoundShape round;
  round.from = map.At("from", "write the middle of one end, [x, y, z]").Point_mm();
  round.to = map.At("to", "write the middle of the other end, [x, y, z]").Point_mm();
  round.radius_mm =
      map.At("radius", "write the radius").Length_mm(Bound::Positive("write the radius of the body", 1e5));
  return round;
}

Shape ReadBox(const YamlValue& value) {
  const YamlMap map = value.Map({"min", "max"});
  BoxShape box;
  box.min = map.At("min", "write the lowest corner, [x, y, z]").Point_mm();
  box.max = map.At("max", "write the highest corner, [x, y, z]").Point_mm();
  if (!((box.max - box.min).minCoeff() > 0)) {
    value.Fail("must have max > min in x, y and z: swap or mend the corners");
  }
  return box;
}

// A body has an inside, and its faces look out of it.
void RequireSolid(const YamlValue& value, const Mesh& mesh) {
  const MeshReport report = Inspect(mesh);
  if (!report.closed) {
    value.Fail(fmt::format("= {} is not closed, {} of its edges have one face only and {} are crowded: close the holes "
                           "of the mesh, or describe the body by capsules and boxes",
                           value.Text(), report.open_edges, report.crowded_edges));
  }
  if (report.volume_mm3 < 0) {
    value.Fail(fmt::format("= {} is inside out, must have its faces counter-clockwise seen from outside: turn them over",
                           value.Text()));
  }
}

Shape ReadMeshShape(const YamlValue& value, const CellContext& context, const std::string& role) {
  const auto file = context.files.Take(value, context.place, role);
  auto mesh = std::make_shared<Mesh>(ReadMesh(file, value.file().units.length_mm));
  RequirePlausibleSize(value, *mesh);
  RequireSolid(value, *mesh);
  // The same solid, and quicker to ask.
  if (IsConvex(*mesh)) return HullShape{std::move(mesh)};
  return MeshShape{std::move(mesh)};
}

}  // namespace

const YamlKeys& ShapeKeys() {
  static const YamlKeys keys = {"capsule", "cylinder", "box", "mesh"};
  return keys;
}

Shape ReadShape(const YamlValue& value, const CellContext& context, const std::string& role,
                const YamlKeys& extra) {
  const YamlKeys& forms = ShapeKeys();
  YamlKeys keys = forms;
  keys.insert(keys.end(), extra.begin(), extra.end());
  const YamlMap map = value.Map(keys);
  int given = 0;
  for (const std::string& form : forms) given += int{map.Has(form)};
  if (given != 1) {
    value.Fail(fmt::format("has {} shapes, must have one of capsule, cylinder, box, mesh: write one entry a shape",
                           given));
  }
  if (const auto box = map.Find("box")) return ReadBox(*box);
  if (const auto mesh = map.Find("mesh")) return ReadMeshShape(*mesh, context, role);
  if (const auto capsule = map.Find("capsule")) {
    const RoundShape round = ReadRound(*capsule);
    return CapsuleShape{round.from, round.to, round.radius_mm};
  }
  const YamlValue cylinder = map.At("cylinder", "");
  const RoundShape round = ReadRound(cylinder);
  if (!((round.to - round.from).norm() > 0)) {
    cylinder.Fail("must have from and to apart: write the middle of each end");
  }
  return CylinderShape{round.from, round.to, round.radius_mm};
}

void RequirePlausibleSize(const YamlValue& value, const Mesh& mesh) {
  Eigen::AlignedBox3d box;
  for (const Eigen::Vector3d& p : mesh.vertices) box.extend(p);
  const double extent_mm = box.sizes().maxCoeff();
  if (extent_mm < kSmallestMesh_mm || extent_mm > kLargestMesh_mm) {
    value.Fail(fmt::format("= {} is {:.4g} mm long, must be between {:g} and {:g} mm: its unit is not the "
                           "units.length of this file (is it in {}? then multiply by {}): export it in that unit",
                           value.Text(), extent_mm, kSmallestMesh_mm, kLargestMesh_mm,
                           extent_mm < kSmallestMesh_mm ? "metres" : "micrometres",
                           extent_mm < kSmallestMesh_mm ? "1000" : "0.001"));
  }
}

}  // namespace aircut::sim
