#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "sim/cell_tables.h"
#include "sim/cell_yaml.h"
#include "sim/check_ids.h"
#include "sim/input_error.h"
#include "sim/job_parts.h"
#include "sim/nearest_word.h"
#include "sim/read_file.h"

namespace aircut::sim {
namespace {

constexpr double kLeastSineOfSpin = 1e-3;

// The keys that the files of a job or a cell may hold.
struct Keys {
  std::set<std::string> known;

  void Add(const YamlFile& file, const std::string& kind) {
    for (const std::string& key : file.known) known.insert(kind + " " + key);
  }
};

YamlFile Named(const std::filesystem::path& file, const InputFiles& files) {
  YamlFile yaml;
  yaml.label = file.string();
  yaml.name = files.NameOf(file);
  return yaml;
}

YamlNode Parsed(const YamlFile& yaml, const std::filesystem::path& file) {
  return ParseYaml(yaml.label, ReadFile(file, YamlLimits{}.max_bytes));
}

Cell ReadCellFile(const std::filesystem::path& file, InputFiles& files, Keys& keys) {
  YamlFile yaml = Named(file, files);
  const YamlNode root = Parsed(yaml, file);
  std::filesystem::path folder = file.parent_path();
  if (folder.empty()) folder = ".";
  Cell cell = ReadCell(YamlValue(yaml, root, ""), {files, {folder, folder}});
  keys.Add(yaml, "cell/1");
  return cell;
}

Cell LoadCell(const YamlValue& value, InputFiles& files, Keys& keys) {
  // The cell may be shared by the jobs of a scene, one folder above them.
  const std::filesystem::path folder = files.folder();
  const auto root = std::filesystem::weakly_canonical(folder).parent_path();
  return ReadCellFile(files.Take(value, {folder, root}, "cell"), files, keys);
}

Material ReadMaterialFile(const std::filesystem::path& file, const InputFiles& files, Keys& keys) {
  YamlFile yaml = Named(file, files);
  const YamlNode root = Parsed(yaml, file);
  const YamlValue top(yaml, root, "");
  RequireKind(top, "material/1");
  YamlKeys known = MaterialKeys();
  known.insert(known.end(), {"aircut", "units"});
  const YamlMap map = top.Map(known);
  ReadUnits(map);
  Material material = ReadMaterial(map);
  keys.Add(yaml, "material/1");
  return material;
}

// A material stands in the job itself or, as a cell may, in a file up to one folder above.
Material ReadJobMaterial(const YamlValue& value, const JobContext& context, const Cell& cell, Keys& keys) {
  YamlKeys known = MaterialKeys();
  known.insert(known.end(), {"file", "slot_test"});
  const YamlMap map = value.Map(known);
  const auto file = map.Find("file");
  if (file) map.Refuse(MaterialKeys(), "stands in the file that material.file names: mend it there");
  const auto root = std::filesystem::weakly_canonical(context.files.folder()).parent_path();
  Material material = file ? ReadMaterialFile(context.files.Take(*file, {context.place.folder, root}, "material"),
                                              context.files, keys)
                           : ReadMaterial(map);
  if (const auto slot = map.Find("slot_test")) {
    for (const char* key : {"cutting_force_n_mm2", "kienzle", "orthogonal"}) {
      if (map.Has(key)) slot->Fail(fmt::format("gives the coefficients: take {} out, or slot_test", key));
    }
    ReadSlotTest(*slot, context, cell, material);
  }
  return material;
}

std::string PlacePath(const Job& job, const InputFiles& files, const kinematics::PathLine& line) {
  return fmt::format("{}:{}", (files.folder() / job.path_file).lexically_normal().string(), line.line);
}

void ReadFreeSpin(const YamlMap& map, Job& job) {
  map.Refuse({"toward"}, "goes with rule: fixed only: take it out");
  job.spin = kinematics::SpinRule::kFree;
  if (const auto most = map.Find("most_per_mm")) {
    job.spin_freedom.spin_per_mm_rad =
        most->Angle_rad(Bound::Positive("write how far the spin may turn per mm of travel, such as 1 deg", 100));
  }
  if (const auto lattice = map.Find("lattice")) {
    job.spin_freedom.spins = lattice->Integer(8, 360, "write how many spins of a turn are tried, such as 36");
  }
}

void ReadSpin(const YamlValue& value, const InputFiles& files, Job& job) {
  const YamlMap map = value.Map({"rule", "toward", "most_per_mm", "lattice"});
  const YamlValue rule = map.At("rule", "write as_written, fixed or free");
  const std::string word = rule.Word({"as_written", "fixed", "free"});
  if (word == "free") return ReadFreeSpin(map, job);
  map.Refuse({"most_per_mm", "lattice"}, "goes with rule: free only: take it out");
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
  const YamlMap map = value->Map({"joints"});
  for (const YamlValue& item : map.At("joints", "write joints: [[..], ..], panel values").Items()) {
    moves.push_back(ReadJointValues(item, arm));
  }
  return moves;
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

RunsAs ReadRuns(const YamlValue& value, const JobContext& context, const kinematics::ArmModel& arm) {
  const YamlMap map = value.Map({"as", "start_posture", "read_back"});
  const std::string as = map.At("as", "write joint_path or poses: what the arm will be given").Word({"joint_path", "poses"});
  RunsAs runs;
  runs.how = as == "poses" ? RunsAs::How::kPoses : RunsAs::How::kJointPath;
  if (as == "joint_path") map.Refuse({"start_posture"}, "goes with as: poses only: take it out");
  if (const auto start = map.Find("start_posture")) {
    runs.start_posture = ReadJointValues(*start, arm);
    if (!arm.InRange(*runs.start_posture)) start->Fail("has a joint outside its range: write panel values inside it");
  }
  if (const auto log = map.Find("read_back")) {
    runs.read_back =
        ReadJointLog(context.files.Take(*log, context.place, "read-back"), kinematics::SlidesOf(arm));
  }
  return runs;
}

// Who answers for what stands in a file of its own, so that it can be signed by itself.
void ReadWaiverFile(const YamlMap& top, const JobContext& context, Keys& keys, Job& job) {
  const auto value = top.Find("waivers");
  if (!value) return;
  const std::filesystem::path file = context.files.Take(*value, context.place, "waivers");
  YamlFile yaml = Named(file, context.files);
  job.waivers = ReadWaivers(yaml, file);
  keys.Add(yaml, "waivers/1");
}

YamlMap TopMap(const YamlValue& top) {
  RequireKind(top, "job/1");
  const YamlMap map = top.Map(
      {"aircut",      "name",        "units",    "cell",     "path",     "ignore_words", "runs",  "approach",
       "return",      "tool_change", "external", "air_pass", "restarts", "write",        "stock", "design",
       "depth_along", "material",    "spin",     "accept",   "require",  "resolution_mm", "waivers"});
  ReadUnits(map);
  map.Refuse({"ignore_words"}, "belongs to the path: write it under path as path.ignore_words");
  return map;
}

// The keys that need the cell: joint values and the path.
void ReadMotion(const YamlMap& top, const JobContext& context, Job& job) {
  const kinematics::ArmModel& arm = *job.cell.arm;
  job.approach = ReadJointMoves(top, "approach", arm);
  job.retreat = ReadJointMoves(top, "return", arm);
  job.tool_change = ReadJointMoves(top, "tool_change", arm);
  job.external = ReadExternalRule(top, arm, job.cell.home);
  job.air_pass = ReadAirPass(top);
  job.restarts = ReadRestarts(top);
  job.write = ReadWrite(top);
  if (const auto runs = top.Find("runs")) job.runs = ReadRuns(*runs, context, arm);
  ReadPath(top, context, job);
}

Job ReadJob(const YamlValue& top_value, InputFiles& files, Keys& keys) {
  const YamlMap top = TopMap(top_value);
  const JobContext context{files, {files.folder(), files.folder()}};
  Job job;
  job.folder = files.folder().string();
  job.name = top.At("name", "write a name for the job").Text();
  job.accept = ReadAccept(top);
  ReadRequire(top, job);
  ReadWaiverFile(top, context, keys, job);
  ReadResolution(top, job);
  top.At("path", "write {file: .., format: pose_table}");
  const YamlValue stock = top.At("stock", "write {mesh: ..}, the uncut piece");
  const YamlValue design = top.At("design", "write {mesh: ..}, {image: ..} or {depth_below_stock: ..}");
  const YamlValue spin = top.At("spin", "write {rule: as_written}, {rule: fixed, toward: [x, y, z]} or {rule: free}");
  ReadDepthAlong(top.At("depth_along", "write stock_normal, axis or [x, y, z]"), job);
  job.cell = LoadCell(top.At("cell", "write the name of the cell file"), files, keys);
  if (const auto material = top.Find("material")) job.material = ReadJobMaterial(*material, context, job.cell, keys);
  ReadMotion(top, context, job);
  ReadSpin(spin, files, job);
  ReadStock(stock, context, job);
  job.design = ReadDesign(design, context, job);
  return job;
}

Job LoadJobNoting(const std::string& job_file, const LoadOptions& options, Keys& keys) {
  InputFiles files(job_file, options);
  files.TakeFirst("job");
  YamlFile yaml = Named(job_file, files);
  const YamlNode root = Parsed(yaml, job_file);
  Keys of_cell;
  Job job = ReadJob(YamlValue(yaml, root, ""), files, of_cell);
  keys.Add(yaml, "job/1");
  keys.known.insert(of_cell.known.begin(), of_cell.known.end());
  job.inputs = files.taken();
  return job;
}

LoadedCellFile LoadCellNoting(const std::string& cell_file, const LoadOptions& options, Keys& keys) {
  InputFiles files(cell_file, options);
  files.TakeFirst("cell");
  LoadedCellFile loaded;
  loaded.cell = ReadCellFile(cell_file, files, keys);
  loaded.inputs = files.taken();
  return loaded;
}

bool IsCell(const std::string& file) {
  const YamlNode root = ParseYaml(file, ReadFile(file, YamlLimits{}.max_bytes));
  for (const auto& [key, value] : root.entries) {
    if (key == "aircut") return value.scalar == "cell/1";
  }
  return false;
}

}  // namespace

Job LoadJob(const std::string& job_file, const LoadOptions& options) {
  Keys keys;
  return LoadJobNoting(job_file, options, keys);
}

LoadedCellFile LoadCellFile(const std::string& cell_file, const LoadOptions& options) {
  Keys keys;
  return LoadCellNoting(cell_file, options, keys);
}

std::set<std::string> KeysKnownWhenReading(const std::string& job_or_cell_file) {
  Keys keys;
  if (IsCell(job_or_cell_file)) {
    LoadCellNoting(job_or_cell_file, {}, keys);
  } else {
    LoadJobNoting(job_or_cell_file, {}, keys);
  }
  return keys.known;
}

}  // namespace aircut::sim
