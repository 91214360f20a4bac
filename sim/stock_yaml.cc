#include <cmath>

#include <fmt/format.h>

#include "sim/cell_yaml.h"
#include "sim/job_parts.h"
#include "sim/mesh_import.h"
#include "sim/winding_number.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;

void ReadThickness(const YamlValue& value, StockScan& scan) {
  const YamlMap map = value.Map({"mm", "measured_at"});
  scan.thickness_mm = map.At("mm", "write the thickness measured, in mm")
                          .Number(Bound::Positive("write the thickness measured, in mm", 1e4));
  const YamlValue places = map.At("measured_at", "write where it was measured, [[x, y], ..]");
  for (const YamlValue& item : places.Items()) {
    const std::vector<YamlValue> xy = item.Items(2);
    const Bound bound = Bound::Within(-1e6, 1e6, "write [x, y] in the workpiece");
    scan.thickness_at.emplace_back(xy[0].Length_mm(bound), xy[1].Length_mm(bound));
  }
  if (scan.thickness_at.empty()) places.Fail("is empty: write where the thickness was measured, [[x, y], ..]");
}

ScanBack::Plane ReadPlane(const YamlValue& value, const StockScan& scan) {
  const YamlMap map = value.Map({"through", "normal"});
  ScanBack::Plane plane;
  plane.through_S = map.At("through", "write a point of the plane, [x, y, z]").Point_mm();
  plane.normal_S = scan.seen_from_S.value_or(Eigen::Vector3d::UnitZ());
  const auto normal = map.Find("normal");
  if (normal) plane.normal_S = normal->Direction();
  // A plane that is nearly seen edge on would lie endlessly deep.
  constexpr double kLeastCosine = 0.1;
  if (normal && scan.seen_from_S && plane.normal_S.dot(*scan.seen_from_S) < kLeastCosine) {
    normal->Fail("must point towards the scanner, as seen_from does, at most 84 degrees off: turn it round");
  }
  return plane;
}

StockScan ReadScan(const YamlValue& value, Job& job) {
  StockScan scan;
  scan.said = Declared::kNone;
  if (value.IsNone()) return scan;
  scan.said = Declared::kGiven;
  const YamlMap map = value.Map({"one_sided", "seen_from", "thickness", "backing_plane", "beside"});
  scan.one_sided = map.At("one_sided", "write true if one side was scanned and the rest drawn, else false").Truth();
  if (const auto seen = map.Find("seen_from")) scan.seen_from_S = seen->Direction();
  if (scan.one_sided) map.At("seen_from", "write the direction from the piece to the scanner, [x, y, z]");
  if (const auto thickness = map.Find("thickness")) ReadThickness(*thickness, scan);
  if (const auto plane = map.Find("backing_plane")) {
    if (scan.thickness_mm) plane->Fail("and thickness both say where the back is: write the one that was measured");
    scan.backing_S = ReadPlane(*plane, scan);
  }
  if (const auto beside = map.Find("beside")) {
    job.stock_faces.ends_at_rim = beside->Word({"unknown", "air"}) == "air";
  }
  return scan;
}

// Holes that hold more than this part of a mesh are no defects: the mesh is open.
// Engineering judgement.
constexpr double kHoleShare = 0.01;

// Pieces of a scan that lie beside it loose, as a part of its area: dust, or the table.
constexpr double kLooseShare = 0.01;

[[noreturn]] void FailOpen(const YamlValue& name, const MeshReport& report) {
  name.Fail(fmt::format("= {} is not closed: {} edges belong to one triangle only and {} to more than two or the "
                        "same way round, must be 0 of both: close the holes and orient the faces, or, if one side of "
                        "the piece was scanned, write stock.scan with one_sided: true, seen_from, and thickness or "
                        "backing_plane",
                        name.Text(), report.open_edges, report.crowded_edges));
}

ScanBack BackOf(const YamlValue& name, const StockScan& scan) {
  if (scan.thickness_mm) return {*scan.seen_from_S, *scan.thickness_mm};
  if (scan.backing_S) return {*scan.seen_from_S, *scan.backing_S};
  name.Fail(fmt::format("= {} is open, and nothing says how thick the piece is: write stock.scan.thickness, {{mm:, "
                        "measured_at:}}, or stock.scan.backing_plane, {{through:}}", name.Text()));
}

MendedMesh OpenScan(const YamlValue& name, const Mesh& mesh_S, const StockScan& scan) {
  const ScanBack back = BackOf(name, scan);
  ScanSurface surface = SurfaceOfScan(mesh_S, back.seen_from_S);
  const double area_mm2 = Inspect(surface.mended.mesh).area_mm2;
  if (surface.largest_left_out_mm2 > kLooseShare * area_mm2) {
    name.Fail(fmt::format("= {} falls into parts that do not hang together, the second of {:.6g} mm2: join them, or "
                          "take out what is not the piece", name.Text(), surface.largest_left_out_mm2));
  }
  if (!(surface.seen_mm2 > 0.0)) {
    name.Fail(fmt::format("= {} looks away from its scanner: turn all faces round, or mend stock.scan.seen_from",
                          name.Text()));
  }
  const double least_mm = LeastDepth(surface.mended.mesh, back);
  if (!(least_mm > 0.0)) {
    name.Fail(fmt::format("= {} reaches {:.6g} mm behind stock.scan.backing_plane, must lie before it: mend the plane",
                          name.Text(), -least_mm));
  }
  return SolidOfScan(std::move(surface.mended), back);
}

// A mesh that was meant to be closed and is not quite; nothing where it is truly open.
std::optional<MendedMesh> Mended(const Mesh& mesh_S) {
  MendedMesh mended = Tidied(mesh_S);
  const double area_mm2 = Inspect(mended.mesh).area_mm2;
  const std::vector<BorderCycle> holes = BorderCycles(mended.mesh);
  double least_mm2 = 0.0;   // no bridge is smaller than its border's area vector
  for (const BorderCycle& hole : holes) least_mm2 += AreaVector(mended.mesh, hole).norm();
  if (least_mm2 > kHoleShare * area_mm2) return std::nullopt;
  BridgeHoles(holes, Eigen::Vector3d::Zero(), mended);
  if (!(mended.defects.hole_mm2 <= kHoleShare * area_mm2)) return std::nullopt;
  return mended;
}

MendedMesh SolidOf(const YamlValue& name, const Mesh& mesh_S, const StockScan& scan, Job& job) {
  const MeshReport report = Inspect(mesh_S);
  if (report.closed) return {mesh_S, std::vector<FaceOrigin>(mesh_S.triangles.size(), FaceOrigin::kGiven), {}};
  if (auto mended = Mended(mesh_S)) return *std::move(mended);
  if (!scan.one_sided) FailOpen(name, report);
  job.stock_faces.back = BackOf(name, scan);
  return OpenScan(name, mesh_S, scan);
}

// Triangles that other parts of the surface enclose or cross. Looked for on so many of
// them first: what encloses less than that share of a large mesh can be missed.
int EnclosedTriangles(const Mesh& mesh) {
  constexpr int kFirstLook = 20'000;
  const WindingField field(mesh);
  if (CountEnclosed(mesh, field, kFirstLook) == 0) return 0;
  return CountEnclosed(mesh, field, static_cast<int>(mesh.triangles.size()));
}

void RequireVolume(const YamlValue& name, const Mesh& mesh) {
  const MeshReport report = Inspect(mesh);
  if (std::abs(report.volume_mm3) <= 1e-9 * report.area_mm2) {
    name.Fail(fmt::format("= {} encloses nothing, its volume is {:.6g} mm3, must be > 0: export the body, not a sheet",
                          name.Text(), report.volume_mm3));
  }
  if (report.volume_mm3 < 0.0) {
    name.Fail(fmt::format("= {} is inside out, its volume is {:.6g} mm3, must be > 0: turn all faces round",
                          name.Text(), report.volume_mm3));
  }
}

}  // namespace

Pose ReadAt(const YamlMap& map) {
  const auto at = map.Find("at");
  return at ? at->RigidPose() : Pose::Identity();
}

void ReadStock(const YamlValue& value, const JobContext& context, Job& job) {
  const YamlMap map = value.Map({"mesh", "at", "scan"});
  const YamlValue name = map.At("mesh", "write the name of the mesh of the uncut piece");
  if (const auto scan = map.Find("scan")) job.scan = ReadScan(*scan, job);
  const Pose X_SM = ReadAt(map);
  const Mesh mesh = ReadMesh(context.files.Take(name, context.place, "stock"), value.file().units.length_mm);
  RequirePlausibleSize(name, mesh);
  MendedMesh solid_S = SolidOf(name, Transformed(mesh, X_SM), job.scan, job);
  RequireVolume(name, solid_S.mesh);
  const bool as_given = !solid_S.defects.any() && !job.stock_faces.back;
  const bool sound = !solid_S.defects.any() && Inspect(solid_S.mesh).closed;
  if (!as_given) job.stock_faces.origin = std::move(solid_S.origin);
  job.stock_faces.defects = solid_S.defects;
  job.stock_faces.defects.enclosed = EnclosedTriangles(solid_S.mesh);
  const bool by_normals = sound && job.stock_faces.defects.enclosed == 0;
  job.stock_S = std::make_shared<const MeshIndex>(std::move(solid_S.mesh),
                                                  by_normals ? InsideBy::kNormals : InsideBy::kWindingNumbers);
}

}  // namespace aircut::sim
