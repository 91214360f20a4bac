#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/cell_yaml.h"
#include "sim/check_ids.h"
#include "sim/input_error.h"
#include "sim/input_files.h"
#include "sim/job.h"
#include "sim/mesh_import.h"
#include "sim/nearest_word.h"
#include "sim/path_file.h"
#include "sim/read_file.h"
#include "sim/yaml_reader.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;

constexpr double kLeastSineOfSpin = 1e-3;

YamlKeys TopKeys() {
  return {{"aircut", "name", "units", "cell", "path", "approach", "return", "stock", "design", "depth_along",
           "spin", "accept", "require", "resolution_mm"},
          {"runs.as", "runs.start_posture", "runs.read_back", "tool_change", "tool_change.joints", "material.name",
           "material.cutting_force_n_mm2", "material.cutting_force_n_mm2.tangential",
           "material.cutting_force_n_mm2.radial", "material.cutting_force_n_mm2.axial", "material.edge_force_n_mm",
           "material.edge_force_n_mm.tangential", "material.edge_force_n_mm.radial",
           "material.edge_force_n_mm.axial", "material.band", "material.source", "ignore_words"}};
}

// What the parts of a job are read with.
struct Reading {
  InputFiles& files;
  InputFiles::Place place;
};

Pose ReadAt(const YamlMap& map) {
  const auto at = map.Find("at");
  return at ? at->RigidPose() : Pose::Identity();
}

LoadedCell LoadCell(const YamlValue& value, InputFiles& files, std::vector<UnusedKey>& unused) {
  // The cell may be shared by the jobs of a scene, one folder above them.
  const std::filesystem::path folder = files.folder();
  const auto file = files.Take(value, {folder, std::filesystem::weakly_canonical(folder).parent_path()}, "cell");
  YamlFile yaml;
  yaml.label = file.string();
  yaml.name = files.NameOf(file);
  const YamlNode root = ParseYaml(yaml.label, ReadFile(file, YamlLimits{}.max_bytes));
  std::filesystem::path cell_folder = file.parent_path();
  if (cell_folder.empty()) cell_folder = ".";
  LoadedCell loaded = ReadCell(YamlValue(yaml, root, ""), {files, {cell_folder, cell_folder}});
  unused.insert(unused.end(), yaml.unused.begin(), yaml.unused.end());
  return loaded;
}

PathDefaults ReadPathDefaults(const YamlMap& map) {
  PathDefaults defaults;
  if (const auto feed = map.Find("feed")) {
    defaults.feed_mm_s = feed->Feed_mm_s(Bound::Positive("write the feed of the cuts", 1e5));
  }
  if (const auto speed = map.Find("spindle_rpm")) {
    defaults.spindle_rpm =
        speed->Number(Bound::Within(-1e6, 1e6, "write the speed in rpm, + clockwise seen from the spindle"));
  }
  if (const auto tool = map.Find("tool")) {
    defaults.tool = tool->Integer(0, 9999, "write the number of a cutter of the cell");
  }
  return defaults;
}

// The cutter of a row; a message that names the row if it is not to be had.
const CellCutter& CutterOf(const PoseRow& row, const LoadedCell& loaded, const std::string& label) {
  const auto found = loaded.cell.cutters.find(row.tool);
  if (found != loaded.cell.cutters.end()) return found->second;
  const auto uncomputed = loaded.uncomputed_cutters.find(row.tool);
  if (uncomputed != loaded.uncomputed_cutters.end()) {
    throw InputError(fmt::format("{}:{}: tool = {} is a cutter of shape {}, which is not computed yet: use a "
                                 "ball cutter or a v cutter with tip_radius",
                                 label, row.line, row.tool, uncomputed->second));
  }
  std::string known;
  for (const auto& [number, cutter] : loaded.cell.cutters) {
    known += (known.empty() ? "" : ", ") + std::to_string(number);
  }
  throw InputError(fmt::format("{}:{}: tool = {} must be a cutter of the cell ({}): mend the number or describe "
                               "the cutter",
                               label, row.line, row.tool, known.empty() ? "none can be computed" : known));
}

void ReadPath(const YamlValue& value, const Reading& reading, const LoadedCell& loaded, Job& job) {
  const YamlMap map = value.Map({{"file", "format", "feed", "spindle_rpm", "tool", "at"},
                                 {"rotary.order", "rotary.turns"}});
  const YamlValue format = map.At("format", "write format: pose_table");
  const std::string word = format.Word({"pose_table", "iso6983", "cutter_location"});
  if (word != "pose_table") {
    format.Fail(fmt::format("= {} is not computed yet: write the path as a pose_table", word));
  }
  const YamlValue name = map.At("file", "write the name of the path file");
  const PathDefaults defaults = ReadPathDefaults(map);
  const Pose X_SP = ReadAt(map);
  const auto file = reading.files.Take(name, reading.place, "path");
  job.path_file = name.Text();
  PathRules rules;
  rules.defaults = defaults;
  const PathProgram program = ReadPathProgram(word, file, rules);
  job.events = program.events;
  job.path.reserve(program.rows.size());
  for (const PoseRow& row : program.rows) {
    const CellCutter& cutter = CutterOf(row, loaded, file.string());
    kinematics::PathLine line;
    line.line = row.line;
    line.axis_S = X_SP.linear() * row.axis_S;
    line.p_ST = X_SP * row.p_SQ - cutter.control_height_mm * line.axis_S;
    if (row.R_ST) line.R_ST = X_SP.linear() * *row.R_ST;
    line.feed_mm_s = row.feed_mm_s;
    line.move = row.move;
    line.spindle_rpm = row.spindle_rpm;
    line.tool = row.tool;
    job.path.push_back(std::move(line));
  }
}

std::string PlacePath(const Job& job, const InputFiles& files, const kinematics::PathLine& line) {
  return fmt::format("{}:{}", (files.folder() / job.path_file).lexically_normal().string(), line.line);
}

void ReadSpin(const YamlValue& value, const InputFiles& files, Job& job) {
  const YamlMap map = value.Map({{"rule", "toward"}, {}});
  const YamlValue rule = map.At("rule", "write as_written or fixed");
  const std::string word = rule.Word({"as_written", "fixed", "free"});
  if (word == "free") {
    rule.Fail("= free is not computed yet: write {rule: fixed, toward: [1, 0, 0]} or {rule: as_written}");
  }
  if (word == "as_written") {
    job.spin = kinematics::SpinRule::kAsWritten;
    if (const auto toward = map.Find("toward")) toward->Fail("goes with rule fixed only: take it out");
    for (const kinematics::PathLine& line : job.path) {
      if (!line.R_ST) {
        rule.Fail("= as_written needs the whole orientation: give the path columns qw,qx,qy,qz or write rule: fixed");
      }
    }
    return;
  }
  job.spin = kinematics::SpinRule::kFixed;
  job.spin_toward_S = map.At("toward", "write the direction in the workpiece that the tool's x points to").Direction();
  for (const kinematics::PathLine& line : job.path) {
    const double sine = line.axis_S.cross(job.spin_toward_S).norm();
    if (!(sine > kLeastSineOfSpin)) {
      throw InputError(fmt::format("{}: the tool axis lies along spin.toward, so the spin is not settled: "
                                   "choose a toward that is square to the tool axes",
                                   PlacePath(job, files, line)));
    }
  }
}

std::shared_ptr<const MeshIndex> ReadStock(const YamlValue& value, const Reading& reading) {
  const YamlMap map = value.Map({{"mesh", "at"}, {"scan.one_sided", "scan.seen_from", "scan.thickness.mm",
                                                  "scan.thickness.measured_at"}});
  const YamlValue name = map.At("mesh", "write the name of the mesh of the uncut piece");
  const Pose X_SM = ReadAt(map);
  const Mesh mesh = ReadMesh(reading.files.Take(name, reading.place, "stock"), value.file().units.length_mm);
  RequirePlausibleSize(name, mesh);
  const MeshReport report = Inspect(mesh);
  if (!report.closed) {
    name.Fail(fmt::format("= {} is not closed: {} edges belong to one triangle only and {} to more than two or "
                          "the same way round, must be 0 of both: close the holes (a one-sided scan needs its "
                          "back and rim) and orient the faces",
                          name.Text(), report.open_edges, report.crowded_edges));
  }
  if (!(report.volume_mm3 > 0)) {
    name.Fail(fmt::format("= {} is inside out, its volume is {:.6g} mm3, must be > 0: turn all faces round",
                          name.Text(), report.volume_mm3));
  }
  return std::make_shared<const MeshIndex>(Transformed(mesh, X_SM));
}

Design ReadDesign(const YamlValue& value, const Reading& reading) {
  const YamlMap map = value.Map({{"mesh", "at", "depth_below_stock", "image"}, {"depth"}});
  if (const auto image = map.Find("image")) {
    image->Fail("is not computed yet: give design: {mesh: ..} or {depth_below_stock: ..}");
  }
  Design design;
  const auto depth = map.Find("depth_below_stock");
  const auto name = map.Find("mesh");
  if (depth.has_value() == name.has_value()) {
    value.Fail("must have one of mesh and depth_below_stock: write the one that is meant");
  }
  if (depth) {
    if (const auto at = map.Find("at")) at->Fail("goes with mesh only: take it out");
    design.depth_below_stock_mm = depth->Length_mm(Bound::Positive("write the depth of the engraving", 1000));
    return design;
  }
  const Pose X_SD = ReadAt(map);
  const Mesh mesh = ReadMesh(reading.files.Take(*name, reading.place, "design"), value.file().units.length_mm);
  RequirePlausibleSize(*name, mesh);
  if (!(Inspect(mesh).area_mm2 > 0)) name->Fail("has no area: export a surface");
  design.mesh_S = std::make_shared<const MeshIndex>(Transformed(mesh, X_SD));
  return design;
}

void ReadDepthAlong(const YamlValue& value, Job& job) {
  if (!value.IsScalar()) {
    job.depth_along = DepthAlong::kFixed;
    job.depth_direction_S = value.Direction();
    return;
  }
  job.depth_along = value.Word({"stock_normal", "axis"}) == "axis" ? DepthAlong::kAxis : DepthAlong::kStockNormal;
}

std::vector<kinematics::JointVector> ReadJointMoves(const YamlMap& top, const char* key,
                                                    const kinematics::ArmModel& arm) {
  std::vector<kinematics::JointVector> moves;
  const auto value = top.Find(key);
  if (!value || value->IsNone()) return moves;
  const YamlMap map = value->Map({{"joints"}, {}});
  for (const YamlValue& item : map.At("joints", "write joints: [[..], ..], panel values").Items()) {
    moves.push_back(ReadJointValues(item, arm));
  }
  return moves;
}

void ReadAccept(const YamlMap& top, AcceptLimits& accept) {
  const auto value = top.Find("accept");
  if (!value) return;
  const YamlMap map = value->Map({{"depth_mm", "gouge_mm", "leftover_mm", "region_mm2", "clearance_mm",
                                   "joint_margin_deg", "piece_mm"},
                                  {"confidence"}});
  const auto read = [&map](const char* key, Limit& limit, const Bound& bound) {
    if (const auto given = map.Find(key)) limit = {given->Number(bound), true};
  };
  const Bound tolerance = Bound::Positive("write the limit you accept, in mm", 1000);
  read("depth_mm", accept.depth_mm, tolerance);
  read("gouge_mm", accept.gouge_mm, tolerance);
  read("leftover_mm", accept.leftover_mm, tolerance);
  read("region_mm2", accept.region_mm2, Bound::Within(0, 1e6, "write the smallest area that counts, in mm2"));
  read("clearance_mm", accept.clearance_mm, Bound::Within(0, 1000, "write the clearance you want, in mm"));
  read("joint_margin_deg", accept.joint_margin_deg, Bound::Within(0, 90, "write the margin you want, in degrees"));
  accept.piece_mm.value = accept.depth_mm.value / 3;
  read("piece_mm", accept.piece_mm, tolerance);
}

void ReadRequire(const YamlMap& top, Job& job) {
  const auto value = top.Find("require");
  if (!value) return;
  std::vector<std::string> ids;
  for (const CheckId& check : kCheckIds) ids.emplace_back(check.id);
  for (const YamlValue& item : value->Items()) {
    const std::string id = item.Text();
    if (std::find(ids.begin(), ids.end(), id) == ids.end()) {
      item.Fail(fmt::format("= {:.60} is not a check{}: mend the name", id, DidYouMean(id, ids)));
    }
    if (std::find(job.require.begin(), job.require.end(), id) != job.require.end()) {
      item.Fail(fmt::format("= {} is named twice: keep one", id));
    }
    job.require.push_back(id);
  }
  if (job.require.empty()) value->Fail("is empty: name at least one check, or take the key out for the usual ones");
  job.require_given = true;
}

void ReadResolution(const YamlMap& top, Job& job) {
  if (const auto value = top.Find("resolution_mm")) {
    job.resolution_mm = value->Number(Bound::Positive("write the edge of a voxel in mm, such as 0.25", 50));
    job.resolution_given = true;
  }
}

Job ReadJob(const YamlValue& top_value, InputFiles& files) {
  RequireKind(top_value, "job/1");
  const YamlMap top = top_value.Map(TopKeys());
  ReadUnits(top);
  const Reading reading{files, {files.folder(), files.folder()}};
  Job job;
  job.folder = files.folder().string();
  job.name = top.At("name", "write a name for the job").Text();
  ReadAccept(top, job.accept);
  ReadRequire(top, job);
  ReadResolution(top, job);
  const YamlValue path = top.At("path", "write {file: .., format: pose_table}");
  const YamlValue stock = top.At("stock", "write {mesh: ..}, the uncut piece");
  const YamlValue design = top.At("design", "write {mesh: ..} or {depth_below_stock: ..}");
  const YamlValue spin = top.At("spin", "write {rule: as_written} or {rule: fixed, toward: [x, y, z]}");
  ReadDepthAlong(top.At("depth_along", "write stock_normal, axis or [x, y, z]"), job);
  LoadedCell loaded = LoadCell(top.At("cell", "write the name of the cell file"), files, job.unused_keys);
  job.approach = ReadJointMoves(top, "approach", *loaded.cell.arm);
  job.retreat = ReadJointMoves(top, "return", *loaded.cell.arm);
  ReadPath(path, reading, loaded, job);
  ReadSpin(spin, files, job);
  job.stock_S = ReadStock(stock, reading);
  job.design = ReadDesign(design, reading);
  job.cell = std::move(loaded.cell);
  return job;
}

}  // namespace

Job LoadJob(const std::string& job_file, const LoadOptions& options) {
  InputFiles files(job_file, options);
  files.TakeJob();
  YamlFile yaml;
  yaml.label = std::filesystem::path(job_file).string();
  yaml.name = files.NameOf(job_file);
  const YamlNode root = ParseYaml(yaml.label, ReadFile(job_file, YamlLimits{}.max_bytes));
  Job job = ReadJob(YamlValue(yaml, root, ""), files);
  job.unused_keys.insert(job.unused_keys.begin(), yaml.unused.begin(), yaml.unused.end());
  job.inputs = files.taken();
  return job;
}

}  // namespace aircut::sim
