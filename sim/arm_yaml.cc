#include <map>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/branch_follower.h"
#include "kinematics/external_axes.h"
#include "sim/arm_deflection.h"
#include "sim/cell_tables.h"
#include "sim/cell_yaml.h"
#include "sim/input_error.h"
#include "sim/joints_yaml.h"
#include "sim/urdf.h"

namespace aircut::sim {
namespace {

using kinematics::ArmModel;
using kinematics::JointSpec;

Bound AnyLength() { return Bound::Within(-1e5, 1e5, "write the length"); }

// A row of either form; where it goes is the form's affair.
template <typename Row>
Row ReadDhRow(const YamlValue& value) {
  const YamlMap map = value.Map({"a", "alpha", "d", "theta_offset"});
  const Bound angle = Bound::Within(-100, 100, "write the angle");
  const char* mend = "write all of a, alpha, d, theta_offset";
  Row row;
  row.a_mm = map.At("a", mend).Length_mm(AnyLength());
  row.alpha_rad = map.At("alpha", mend).Angle_rad(angle);
  row.d_mm = map.At("d", mend).Length_mm(AnyLength());
  row.theta_offset_rad = map.At("theta_offset", mend).Angle_rad(angle);
  return row;
}

template <typename Row>
std::vector<Row> ReadDhRows(const YamlValue& value, std::size_t joint_count) {
  const YamlMap map = value.Map({"form", "rows"});
  std::vector<Row> rows;
  const YamlValue list = map.At("rows", "write one row a joint, [{a:, alpha:, d:, theta_offset:}, ..]");
  for (const YamlValue& item : list.Items(joint_count)) rows.push_back(ReadDhRow<Row>(item));
  return rows;
}

ArmModel ReadSphericalWrist(const YamlValue& value, std::vector<JointSpec> joints) {
  const YamlMap map = value.Map({"form", "a1", "a2", "b", "c1", "c2", "c3", "c4"});
  const auto length = [&map](const char* key) {
    return map.At(key, "write all of a1, a2, b, c1, c2, c3, c4").Length_mm(AnyLength());
  };
  kinematics::SphericalWristParameters p;
  p.a1_mm = length("a1");
  p.a2_mm = length("a2");
  p.b_mm = length("b");
  p.c1_mm = length("c1");
  p.c2_mm = length("c2");
  p.c3_mm = length("c3");
  p.c4_mm = length("c4");
  return ArmModel::FromSphericalWrist(p, std::move(joints));
}

// The chain that a robot description holds, and what it says of the joints.
struct Described {
  std::vector<kinematics::ChainJoint> chain;
  std::vector<DescribedJoint> joints;
};

Described ReadDescription(const YamlValue& value, const CellContext& context) {
  const YamlMap map = value.Map({"form", "file", "base", "flange"});
  const YamlValue name = map.At("file", "write the name of the URDF file");
  const std::string base = map.At("base", "write the name of the link that stands on the base").Text();
  const std::string flange = map.At("flange", "write the name of the link that is the flange").Text();
  const auto file = context.files.Take(name, context.place, "arm description");
  Described described;
  for (const UrdfJoint& joint : ReadUrdf(file, base, flange).joints) {
    if (joint.follows) {
      throw InputError(fmt::format("{}:{}: joint {} mimics another, must have a drive of its own: write the arm as "
                                   "dh_modified with follows in arm.joints", file.string(), joint.line, joint.name));
    }
    described.chain.push_back(joint.chain);
    DescribedJoint of_joint;
    of_joint.name = joint.name;
    if (joint.range) of_joint.range_rad = {joint.range->lower_rad, joint.range->upper_rad};
    of_joint.speed_rad_s = joint.speed_rad_s;
    described.joints.push_back(std::move(of_joint));
  }
  return described;
}

ArmModel MakeArm(const YamlValue& form_map, const std::string& form, std::vector<JointSpec> joints) {
  const std::size_t count = joints.size();
  if (form == "dh_standard") {
    return ArmModel::FromDhStandard(ReadDhRows<kinematics::DhRow>(form_map, count), std::move(joints));
  }
  if (form == "dh_modified") {
    return ArmModel::FromDhModified(ReadDhRows<kinematics::ModifiedDhRow>(form_map, count), std::move(joints));
  }
  return ReadSphericalWrist(form_map, std::move(joints));
}

// The form decides which keys belong, so it is looked up before they are checked.
YamlValue FormOf(const YamlValue& form_map) {
  if (!form_map.IsMap()) form_map.Fail("must be a map: write {form: dh_standard, rows: [..]}");
  for (const auto& [key, child] : form_map.node().entries) {
    if (key == "form") return {form_map.file(), child, form_map.path() + ".form"};
  }
  form_map.Fail("has no form: write form: dh_standard, dh_modified, spherical_wrist or urdf");
}

void ReadArmModel(const YamlMap& arm, const CellContext& context, Cell& cell) {
  const YamlValue form_map = arm.At("kinematics", "write the geometry of the arm, {form: dh_standard, rows: [..]}");
  cell.arm_form = FormOf(form_map).Word({"dh_standard", "dh_modified", "spherical_wrist", "urdf"});
  const bool is_described = cell.arm_form == "urdf";
  Described described;
  if (is_described) described = ReadDescription(form_map, context);
  JointTable table = ReadJoints(arm.At("joints", "write one entry a joint"), described.joints);
  cell.drives = std::move(table.drives);
  cell.assumed = std::move(table.assumed);
  try {
    auto model = std::make_shared<const ArmModel>(
        is_described ? ArmModel::FromChain(std::move(described.chain), std::move(table.joints))
                     : MakeArm(form_map, cell.arm_form, std::move(table.joints)));
    kinematics::BranchFollower solved(*model);   // throws if this arm can be neither solved nor searched
    cell.arm = model;
  } catch (const std::invalid_argument& error) {
    form_map.Fail(fmt::format("does not describe an arm that can be solved ({}): mend the geometry", error.what()));
  }
}

StatedAccuracy ReadAccuracy(const YamlValue& value) {
  const YamlMap map = value.Map({"mm", "over_mm", "source"});
  StatedAccuracy accuracy;
  accuracy.error_mm = map.At("mm", "write the error of a place in mm")
                          .Number(Bound::Positive("write the error of a place in mm", 100));
  accuracy.over_mm = map.At("over_mm", "write the distance over which it holds, in mm")
                         .Number(Bound::Positive("write the distance over which it holds, in mm", 1e5));
  accuracy.source = map.At("source", "write who measured it, or where it is printed").Text();
  return accuracy;
}

void ReadModes(const YamlValue& value, Cell& cell) {
  for (const YamlValue& item : value.Items()) {
    const YamlMap map = item.Map({"hz", "by"});
    MeasuredMode mode;
    mode.hz = map.At("hz", "write the frequency that was measured").Number(Bound::Positive("write the frequency in hertz", 1e5));
    mode.by = map.At("by", "write how and in which posture it was measured, such as tap test over the work").Text();
    cell.modes.push_back(std::move(mode));
  }
  if (cell.modes.empty()) value.Fail("is empty: write at least one measured mode, or take the key out");
}

Payload ReadPayload(const YamlValue& value) {
  const YamlMap map = value.Map({"limit_kg", "tool_kg", "centre_in_flange"});
  Payload payload;
  payload.limit_kg = map.At("limit_kg", "write the mass that the arm may carry, in kg")
                         .Number(Bound::Positive("write the mass that the arm may carry, in kg", 1e4));
  payload.tool_kg = map.At("tool_kg", "write the mass of spindle, bracket and cutter, in kg")
                        .Number(Bound::Positive("write the mass of spindle, bracket and cutter, in kg", 1e4));
  if (const auto centre = map.Find("centre_in_flange")) payload.centre_F = centre->Point_mm();
  return payload;
}

void ReadDeflectionTest(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({"file", "point_in_flange"});
  const YamlValue name = map.At("file", "write the name of the table of the test");
  const Eigen::Vector3d p_FQ =
      map.At("point_in_flange", "write where the tool was pushed and measured, [x, y, z] in the flange").Point_mm();
  for (const JointDrive& drive : cell.drives) {
    if (drive.stiffness_nm_rad) value.Fail("goes without stiffness_nm_rad in arm.joints: take one of the two out");
  }
  const auto file = context.files.Take(name, context.place, "deflection test");
  cell.arm_fit = FitArmStiffness(file.string(), ReadArmPushes(file, cell), *cell.arm, p_FQ);
  cell.arm_fit->file = context.files.NameOf(file);
}

// What is known of this very arm besides its geometry.
void ReadKnowledge(const YamlMap& arm, const CellContext& context, Cell& cell) {
  if (const auto source = arm.Find("source")) cell.arm_source = source->Text();
  if (const auto readouts = arm.Find("readouts")) {
    cell.readouts = ReadReadouts(context.files.Take(*readouts, context.place, "read-outs"),
                                 kinematics::SlidesOf(*cell.arm));
  }
  if (const auto test = arm.Find("deflection_test")) ReadDeflectionTest(*test, context, cell);
  if (const auto drift = arm.Find("drift_test")) {
    cell.drift = ReadDriftTest(context.files.Take(*drift, context.place, "drift test"));
  }
  if (const auto repeatability = arm.Find("repeatability_mm")) {
    cell.repeatability_mm = repeatability->Number(Bound::Positive("write the repeatability in mm, such as 0.06", 10));
  }
  if (const auto accuracy = arm.Find("accuracy")) cell.accuracy = ReadAccuracy(*accuracy);
  if (const auto payload = arm.Find("payload")) cell.payload = ReadPayload(*payload);
  if (const auto modes = arm.Find("modes")) ReadModes(*modes, cell);
}

}  // namespace

std::vector<LinkBody> ReadLinkBodies(const YamlValue& list, const CellContext& context, const std::string& role,
                                     int joint_count) {
  std::map<int, std::vector<Shape>> by_link;
  const std::string mend = "write the number of the link, 0 for the base";
  for (const YamlValue& item : list.Items()) {
    Shape shape = ReadShape(item, context, role, {"of"});
    YamlKeys keys = ShapeKeys();
    keys.emplace_back("of");
    by_link[item.Map(keys).At("of", mend).Integer(0, joint_count, mend)].push_back(std::move(shape));
  }
  std::vector<LinkBody> bodies;
  for (auto& [link, shapes] : by_link) bodies.push_back({link, std::move(shapes)});
  return bodies;
}

void ReadArm(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap arm = value.Map({"name", "source", "base_in_world", "kinematics", "joints", "links",
                                 "readouts", "repeatability_mm", "accuracy", "payload", "modes", "home", "external",
                                 "drift_test", "deflection_test"});
  cell.arm_name = arm.At("name", "write a name for the arm").Text();
  cell.X_WB =
      arm.At("base_in_world", "write {position: [x, y, z], rotation: {axis: [0, 0, 1], angle: 0}}").RigidPose();
  ReadArmModel(arm, context, cell);
  if (const auto external = arm.Find("external")) ReadExternals(*external, cell);
  const YamlValue links =
      arm.At("links", "describe the bodies of the arm, [{of: 2, capsule: {from:, to:, radius:}}, ..]");
  cell.links = ReadLinkBodies(links, context, "link mesh", static_cast<int>(cell.arm->chain().size()));
  if (cell.links.empty()) links.Fail("is empty: describe the bodies of the arm, clash needs them");
  const YamlValue home = arm.At("home", "write the panel values at which the job starts and ends");
  cell.home = ReadJointValues(home, *cell.arm);
  if (!cell.arm->InRange(cell.home)) {
    const char* axes = cell.arm->externals().empty() ? "" : ", arm.external range";
    home.Fail(fmt::format("has a joint outside its range: write panel values inside arm.joints range{}", axes));
  }
  ReadKnowledge(arm, context, cell);
}

double ReadJointValue(const YamlValue& value, const ArmModel& arm, int joint) {
  const std::string mend = "write the value as the panel shows it";
  if (kinematics::IsSlide(arm, joint)) return value.Length_mm(Bound::Within(-1e5, 1e5, mend));
  return value.Angle_rad(Bound::Within(-100, 100, mend));
}

kinematics::JointVector ReadJointValues(const YamlValue& value, const kinematics::ArmModel& arm) {
  const std::vector<YamlValue> items = value.Items(static_cast<std::size_t>(arm.joint_count()));
  kinematics::JointVector q(arm.joint_count());
  for (std::size_t i = 0; i < items.size(); ++i) {
    q[static_cast<Eigen::Index>(i)] = ReadJointValue(items[i], arm, static_cast<int>(i));
  }
  return q;
}

}  // namespace aircut::sim
