#include "sim/cell_yaml.h"

#include <algorithm>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/inverse_kinematics.h"
#include "kinematics/units.h"
#include "sim/csv_rows.h"
#include "sim/input_error.h"

namespace aircut::sim {
namespace {

using kinematics::JointSpec;

YamlKeys TopKeys() {
  return {{"aircut", "name", "units", "arm", "controller", "spindle", "cutters", "workpiece", "fixture", "bodies",
           "obstacles"},
          {}};
}

YamlKeys ArmKeys() {
  return {{"name", "base_in_world", "kinematics", "joints", "links", "home"},
          {"source", "readouts", "repeatability_mm", "accuracy.mm", "accuracy.over_mm", "accuracy.source",
           "payload.limit_kg", "payload.tool_kg", "payload.centre_in_flange"}};
}

JointSpec ReadJoint(const YamlValue& value, int index) {
  const YamlMap map = value.Map({{"range", "speed", "acceleration", "sign", "zero", "follows"},
                                 {"stiffness_nm_rad", "lost_motion_arcmin"}});
  const Bound angle = Bound::Within(-100, 100, "write an angle as the panel shows it");
  JointSpec joint;
  const YamlValue range = map.At("range", "write range: [lowest, highest]");
  const std::vector<YamlValue> ends = range.Items(2);
  joint.lower_rad = ends[0].Angle_rad(angle);
  joint.upper_rad = ends[1].Angle_rad(angle);
  if (!(joint.upper_rad > joint.lower_rad)) range.Fail("must be [lowest, highest]: swap or mend the ends");
  joint.speed_rad_s = map.At("speed", "write the largest joint speed, angle per second")
                          .Angle_rad(Bound::Positive("write the largest joint speed, angle per second", 1000));
  joint.acceleration_rad_s2 =
      map.At("acceleration", "write the largest joint acceleration, angle per second squared")
          .Angle_rad(Bound::Positive("write the largest joint acceleration, angle per second squared", 1e5));
  const YamlValue sign = map.At("sign", "write 1 if the panel counts as the model turns, else -1");
  joint.sign = sign.Integer(-1, 1, "write 1 or -1");
  if (joint.sign == 0) sign.Fail("= 0 must be 1 or -1: write which way the panel counts");
  joint.zero_rad = map.At("zero", "write the model angle at panel value 0").Angle_rad(angle);
  if (const auto follows = map.Find("follows")) {
    const YamlMap coupling = follows->Map({{"joint", "ratio"}, {}});
    kinematics::JointFollow follow;
    follow.joint = coupling.At("joint", "write the number of the joint that drives")
                       .Integer(1, index, "name an earlier joint, counted from 1") - 1;
    follow.ratio = coupling.At("ratio", "write the ratio, such as -1")
                       .Number(Bound::Within(-10, 10, "write the ratio, such as -1"));
    joint.follows = follow;
  }
  return joint;
}

std::vector<JointSpec> ReadJoints(const YamlValue& value) {
  std::vector<JointSpec> joints;
  for (const YamlValue& item : value.Items()) {
    if (static_cast<int>(joints.size()) == kinematics::kMaxJoints) {
      item.Fail(fmt::format("is one joint too many, at most {} are possible: take it out", kinematics::kMaxJoints));
    }
    joints.push_back(ReadJoint(item, static_cast<int>(joints.size())));
  }
  return joints;
}

kinematics::DhRow ReadDhRow(const YamlValue& value) {
  const YamlMap map = value.Map({{"a", "alpha", "d", "theta_offset"}, {}});
  const Bound length = Bound::Within(-1e5, 1e5, "write the length");
  const Bound angle = Bound::Within(-100, 100, "write the angle");
  kinematics::DhRow row;
  row.a_mm = map.At("a", "write all of a, alpha, d, theta_offset").Length_mm(length);
  row.alpha_rad = map.At("alpha", "write all of a, alpha, d, theta_offset").Angle_rad(angle);
  row.d_mm = map.At("d", "write all of a, alpha, d, theta_offset").Length_mm(length);
  row.theta_offset_rad = map.At("theta_offset", "write all of a, alpha, d, theta_offset").Angle_rad(angle);
  return row;
}

kinematics::ArmModel ReadDhStandard(const YamlValue& value, std::vector<JointSpec> joints) {
  const YamlMap map = value.Map({{"form", "rows"}, {}});
  std::vector<kinematics::DhRow> rows;
  const YamlValue list = map.At("rows", "write one row a joint, [{a:, alpha:, d:, theta_offset:}, ..]");
  for (const YamlValue& item : list.Items(joints.size())) rows.push_back(ReadDhRow(item));
  return kinematics::ArmModel::FromDhStandard(rows, std::move(joints));
}

kinematics::ArmModel ReadSphericalWrist(const YamlValue& value, std::vector<JointSpec> joints) {
  const YamlMap map = value.Map({{"form", "a1", "a2", "b", "c1", "c2", "c3", "c4"}, {}});
  const auto length = [&map](const char* key) {
    return map.At(key, "write all of a1, a2, b, c1, c2, c3, c4")
        .Length_mm(Bound::Within(-1e5, 1e5, "write the length"));
  };
  kinematics::SphericalWristParameters p;
  p.a1_mm = length("a1");
  p.a2_mm = length("a2");
  p.b_mm = length("b");
  p.c1_mm = length("c1");
  p.c2_mm = length("c2");
  p.c3_mm = length("c3");
  p.c4_mm = length("c4");
  return kinematics::ArmModel::FromSphericalWrist(p, std::move(joints));
}

std::shared_ptr<const kinematics::ArmModel> ReadArmModel(const YamlMap& arm) {
  const YamlValue form_map = arm.At("kinematics", "write the geometry of the arm, {form: dh_standard, rows: [..]}");
  // The form decides which keys belong; it is looked up before they are checked.
  if (!form_map.IsMap()) form_map.Fail("must be a map: write {form: dh_standard, rows: [..]}");
  std::optional<YamlValue> form;
  for (const auto& [key, child] : form_map.node().entries) {
    if (key == "form") form.emplace(form_map.file(), child, form_map.path() + ".form");
  }
  if (!form) form_map.Fail("has no form: write form: dh_standard or form: spherical_wrist");
  const std::string word = form->Word({"dh_standard", "spherical_wrist", "dh_modified", "urdf"});
  if (word == "dh_modified" || word == "urdf") {
    form->Fail(fmt::format("= {} is not computed yet: write the arm as dh_standard or spherical_wrist", word));
  }
  std::vector<JointSpec> joints = ReadJoints(arm.At("joints", "write one entry a joint"));
  try {
    auto model = std::make_shared<const kinematics::ArmModel>(
        word == "dh_standard" ? ReadDhStandard(form_map, std::move(joints))
                              : ReadSphericalWrist(form_map, std::move(joints)));
    kinematics::InverseKinematics closed_form(*model);   // throws if this arm has none
    return model;
  } catch (const std::invalid_argument& error) {
    form_map.Fail(fmt::format("does not describe an arm that can be solved ({}): mend the geometry", error.what()));
  }
}

void ReadLinks(const YamlValue& value, const CellContext& context, Cell& cell) {
  std::map<int, std::vector<Shape>> by_link;
  for (const YamlValue& item : value.Items()) {
    Shape shape = ReadShape(item, context, "link mesh", {"of"});
    const YamlMap map = item.Map({{"of", "capsule", "cylinder", "box", "mesh"}, {}});
    const int link = map.At("of", "write the number of the link, 0 for the base")
                         .Integer(0, cell.arm->joint_count(), "write the number of the link, 0 for the base");
    by_link[link].push_back(std::move(shape));
  }
  if (by_link.empty()) value.Fail("is empty: describe the bodies of the arm, clash needs them");
  for (auto& [link, shapes] : by_link) cell.links.push_back({link, std::move(shapes)});
}

void ReadArm(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap arm = value.Map(ArmKeys());
  cell.arm_name = arm.At("name", "write a name for the arm").Text();
  cell.X_WB =
      arm.At("base_in_world", "write {position: [x, y, z], rotation: {axis: [0, 0, 1], angle: 0}}").RigidPose();
  cell.arm = ReadArmModel(arm);
  ReadLinks(arm.At("links", "describe the bodies of the arm, [{of: 2, capsule: {from:, to:, radius:}}, ..]"),
            context, cell);
  const YamlValue home = arm.At("home", "write the panel values at which the job starts and ends");
  cell.home = ReadJointValues(home, *cell.arm);
  if (!cell.arm->InRange(cell.home)) {
    home.Fail("has a joint outside its range: write panel values inside arm.joints range");
  }
}

void ReadController(const YamlValue& value, Cell& cell) {
  const YamlMap map = value.Map({{"corner", "cycle_s", "rapid"}, {"look_ahead_moves", "over_speed"}});
  const YamlMap corner = map.At("corner", "write corner: {rule: exact_stop} or {rule: blend, distance: ..}")
                             .Map({{"rule"}, {"distance"}});
  cell.controller.corner = corner.At("rule", "write blend or exact_stop").Word({"blend", "exact_stop"}) == "blend"
                               ? kinematics::CornerRule::kBlend
                               : kinematics::CornerRule::kExactStop;
  cell.controller.rapid = map.At("rapid", "write straight or joint: the way a rapid takes")
                                      .Word({"straight", "joint"}) == "straight"
                              ? kinematics::RapidRule::kStraight
                              : kinematics::RapidRule::kJoint;
  cell.controller.cycle_s = map.At("cycle_s", "write the controller's cycle in seconds, such as 0.012")
                                .Number(Bound::Within(1e-4, 1, "write the controller's cycle in seconds"));
}

// Smallest cylinder about the z axis of H that holds the shape: bodies that turn
// the piece's material are told apart by height and radius only.
BodyCylinder AboutAxis(const Shape& shape, const YamlValue& value) {
  const auto around = [](const Eigen::Vector3d& a, const Eigen::Vector3d& b, double radius_mm, bool has_caps) {
    const Eigen::Vector3d along = b - a;
    const double length = along.norm();
    // A flat end reaches along z only as far as it leans.
    const double lean = has_caps || !(length > 0) ? 1.0 : along.head<2>().norm() / length;
    const double extra_mm = radius_mm * lean;
    return BodyCylinder{std::min(a.z(), b.z()) - extra_mm, std::max(a.z(), b.z()) + extra_mm,
                        std::max(a.head<2>().norm(), b.head<2>().norm()) + radius_mm};
  };
  if (const auto* cylinder = std::get_if<CylinderShape>(&shape)) {
    return around(cylinder->from, cylinder->to, cylinder->radius_mm, false);
  }
  if (const auto* capsule = std::get_if<CapsuleShape>(&shape)) {
    return around(capsule->from, capsule->to, capsule->radius_mm, true);
  }
  if (const auto* box = std::get_if<BoxShape>(&shape)) {
    const Eigen::Vector3d far = box->min.cwiseAbs().cwiseMax(box->max.cwiseAbs());
    return {box->min.z(), box->max.z(), far.head<2>().norm()};
  }
  if (const auto* mesh = std::get_if<MeshShape>(&shape)) {
    BodyCylinder body{1e30, -1e30, 0};
    for (const Eigen::Vector3d& p : mesh->mesh->vertices) {
      body.z0_mm = std::min(body.z0_mm, p.z());
      body.z1_mm = std::max(body.z1_mm, p.z());
      body.radius_mm = std::max(body.radius_mm, p.head<2>().norm());
    }
    return body;
  }
  value.Fail("must be a cylinder, capsule, box or mesh");
}

void ReadSpindle(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({{"nose_in_flange", "housing", "speed_rpm", "switched"},
                                 {"power_w", "run_up_s"}});
  cell.X_FH = map.At("nose_in_flange", "write where the lowest face of the collet nut is in the flange").RigidPose();
  const YamlValue housing = map.At("housing", "describe the spindle's body above the nose, or write none");
  if (!housing.IsNone()) {
    for (const YamlValue& item : housing.Items()) {
      Shape shape = ReadShape(item, context, "spindle mesh");
      cell.housing_H.push_back(AboutAxis(shape, item));
      cell.housing_shapes_H.push_back(std::move(shape));
    }
  }
  const YamlValue speed = map.At("speed_rpm", "write speed_rpm: [lowest, highest]");
  const std::vector<YamlValue> ends = speed.Items(2);
  const Bound rpm = Bound::Within(0, 1e6, "write the spindle speed in rpm");
  cell.spindle_min_rpm = ends[0].Number(rpm);
  cell.spindle_max_rpm = ends[1].Number(rpm);
  if (!(cell.spindle_max_rpm > cell.spindle_min_rpm)) speed.Fail("must be [lowest, highest]: swap or mend the ends");
  const YamlValue switched = map.At("switched", "write by_path or outside");
  if (switched.Word({"by_path", "outside"}) == "outside") switched.NoteUnused();
}

std::vector<Eigen::Vector3d> ReadTouched(const std::filesystem::path& file) {
  CsvRows rows(file);
  const double inch_mm = kinematics::MmFromInch(1);
  const std::vector<CsvColumn> columns =
      ReadHeader(rows, {{"x_mm", 0, 1.0}, {"y_mm", 1, 1.0}, {"z_mm", 2, 1.0},
                        {"x_in", 0, inch_mm}, {"y_in", 1, inch_mm}, {"z_in", 2, inch_mm}});
  if (columns.size() != 3) {
    throw InputError(rows.Place() + ": the header must name x_mm, y_mm and z_mm (or _in): add what is missing");
  }
  std::vector<Eigen::Vector3d> points;
  while (rows.Next()) {
    RequireFieldCount(rows, 3);
    Eigen::Vector3d p;
    for (std::size_t i = 0; i < 3; ++i) {
      p[columns[i].column] = columns[i].scale * NumberIn(rows, "coordinate", rows.fields()[i]);
    }
    points.push_back(p);
  }
  return points;
}

void ReadWorkpiece(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({{"in_world", "fit", "touched"}, {}});
  if (const auto fit = map.Find("fit")) {
    fit->Fail("is not computed yet: give workpiece.in_world as the controller holds it");
  }
  cell.X_WS = map.At("in_world", "write the work frame as the controller holds it, {position:, rotation:}").RigidPose();
  if (const auto touched = map.Find("touched")) {
    cell.touched_W = ReadTouched(context.files.Take(*touched, context.place, "touched points"));
    if (cell.touched_W.empty()) touched->Fail("names a table without points: touch the piece or take the key out");
  }
}

void ReadSurroundings(const YamlMap& top, const CellContext& context, Cell& cell) {
  if (const auto fixture = top.Find("fixture"); fixture && !fixture->IsNone()) {
    const YamlMap map = fixture->Map({{"parts"}, {"stiffness.push_test", "stiffness.n_per_mm", "clamps[].at",
                                       "clamps[].direction", "clamps[].force_n", "clamps[].friction"}});
    if (const auto parts = map.Find("parts"); parts && !parts->IsNone()) {
      for (const YamlValue& item : parts->Items()) {
        cell.fixture_S.push_back(ReadShape(item, context, "fixture mesh"));
      }
    }
  }
  if (const auto obstacles = top.Find("obstacles"); obstacles && !obstacles->IsNone()) {
    for (const YamlValue& item : obstacles->Items()) {
      Shape shape = ReadShape(item, context, "obstacle mesh", {"name"});
      const YamlMap map = item.Map({{"name", "capsule", "cylinder", "box", "mesh"}, {}});
      cell.obstacles_W.push_back({map.At("name", "write a name for the obstacle").Text(), {std::move(shape)}});
    }
  }
  if (const auto bodies = top.Find("bodies")) {
    const YamlMap map = bodies->Map({{"floor"}, {"hose", "dust_hood"}});
    if (const auto floor = map.Find("floor"); floor && !floor->IsNone()) {
      cell.floor_z_mm = floor->Map({{"z"}, {}})
                            .At("z", "write the height of the floor in the world frame")
                            .Length_mm(Bound::Within(-1e6, 1e6, "write the height of the floor"));
    }
  }
}

}  // namespace

kinematics::JointVector ReadJointValues(const YamlValue& value, const kinematics::ArmModel& arm) {
  const std::vector<YamlValue> items = value.Items(static_cast<std::size_t>(arm.joint_count()));
  kinematics::JointVector q(arm.joint_count());
  for (std::size_t i = 0; i < items.size(); ++i) {
    q[static_cast<Eigen::Index>(i)] =
        items[i].Angle_rad(Bound::Within(-100, 100, "write the value as the panel shows it"));
  }
  return q;
}

LoadedCell ReadCell(const YamlValue& top_value, const CellContext& context) {
  RequireKind(top_value, "cell/1");
  const YamlMap top = top_value.Map(TopKeys());
  ReadUnits(top);
  LoadedCell loaded;
  Cell& cell = loaded.cell;
  cell.name = top.At("name", "write a name for the cell").Text();
  ReadArm(top.At("arm", "describe the arm"), context, cell);
  ReadController(top.At("controller", "write {corner: {rule: ..}, rapid: .., cycle_s: ..}"), cell);
  ReadSpindle(top.At("spindle", "describe the spindle"), context, cell);
  ReadCutters(top.At("cutters", "describe the cutters, {1: {shape: ball, ..}}"), loaded);
  ReadWorkpiece(top.At("workpiece", "write workpiece: {in_world: {position:, rotation:}}"), context, cell);
  ReadSurroundings(top, context, cell);
  return loaded;
}

}  // namespace aircut::sim
