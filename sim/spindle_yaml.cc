#include <algorithm>
#include <variant>

#include <fmt/format.h>

#include "sim/cell_yaml.h"

namespace aircut::sim {
namespace {

const Mesh* MeshOf(const Shape& shape) {
  if (const auto* hull = std::get_if<HullShape>(&shape)) return hull->mesh.get();
  const auto* mesh = std::get_if<MeshShape>(&shape);
  return mesh ? mesh->mesh.get() : nullptr;
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
  if (const Mesh* mesh = MeshOf(shape)) {
    BodyCylinder body{1e30, -1e30, 0};
    for (const Eigen::Vector3d& p : mesh->vertices) {
      body.z0_mm = std::min(body.z0_mm, p.z());
      body.z1_mm = std::max(body.z1_mm, p.z());
      body.radius_mm = std::max(body.radius_mm, p.head<2>().norm());
    }
    return body;
  }
  value.Fail("must be a cylinder, capsule, box or mesh");
}

void ReadHousing(const YamlValue& housing, const CellContext& context, Cell& cell) {
  cell.housing = Declared::kNone;
  if (housing.IsNone()) return;
  cell.housing = Declared::kGiven;
  for (const YamlValue& item : housing.ItemsOrNone()) {
    Shape shape = ReadShape(item, context, "spindle mesh");
    cell.housing_H.push_back(AboutAxis(shape, item));
    cell.housing_shapes_H.push_back(std::move(shape));
  }
}

std::vector<PowerPoint> ReadPower(const YamlValue& value) {
  std::vector<PowerPoint> power;
  for (const YamlValue& item : value.Items()) {
    const std::vector<YamlValue> pair = item.Items(2);
    PowerPoint point;
    point.rpm = pair[0].Number(Bound::Within(0, 1e6, "write [rpm, watts]"));
    point.power_w = pair[1].Number(Bound::Within(0, 1e6, "write [rpm, watts]"));
    if (!power.empty() && !(point.rpm > power.back().rpm)) {
      item.Fail(fmt::format("comes after {:g} rpm, must rise: list the points by rising rpm", power.back().rpm));
    }
    power.push_back(point);
  }
  if (power.size() < 2) value.Fail("must have two points or more: write [[rpm, watts], [rpm, watts], ..]");
  return power;
}

}  // namespace

void ReadSpindle(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({"nose_in_flange", "housing", "speed_rpm", "power_w", "run_up_s", "switched", "stiffness_n_per_mm"});
  cell.X_FH = map.At("nose_in_flange", "write where the lowest face of the collet nut is in the flange").RigidPose();
  if (const auto housing = map.Find("housing")) ReadHousing(*housing, context, cell);
  const YamlValue speed = map.At("speed_rpm", "write speed_rpm: [lowest, highest]");
  const std::vector<YamlValue> ends = speed.Items(2);
  const Bound rpm = Bound::Within(0, 1e6, "write the spindle speed in rpm");
  cell.spindle_min_rpm = ends[0].Number(rpm);
  cell.spindle_max_rpm = ends[1].Number(rpm);
  if (!(cell.spindle_max_rpm > cell.spindle_min_rpm)) speed.Fail("must be [lowest, highest]: swap or mend the ends");
  if (const auto power = map.Find("power_w")) cell.power = ReadPower(*power);
  if (const auto run_up = map.Find("run_up_s")) {
    cell.run_up_s = run_up->Number(Bound::Within(0, 600, "write the seconds from standstill to full speed"));
  }
  if (const auto spring = map.Find("stiffness_n_per_mm")) {
    const YamlMap ways = spring->Map({"radial", "axial"});
    const Bound bound = Bound::Positive("write the stiffness at the collet nut in N per mm", 1e9);
    const std::string mend = "write the stiffness across and along the spindle, {radial: .., axial: ..}";
    cell.spindle_spring = SpindleSpring{ways.At("radial", mend).Number(bound), ways.At("axial", mend).Number(bound)};
  }
  cell.switched = map.At("switched", "write by_path or outside").Word({"by_path", "outside"}) == "outside"
                      ? SpindleSwitch::kOutside
                      : SpindleSwitch::kByPath;
}

void ReadController(const YamlValue& value, Cell& cell) {
  const YamlMap map = value.Map({"corner", "look_ahead_moves", "tool_acceleration", "cycle_s", "rapid", "over_speed"});
  const YamlMap corner = map.At("corner", "write corner: {rule: exact_stop} or {rule: blend, distance: ..}")
                             .Map({"rule", "distance"});
  const std::string rule = corner.At("rule", "write blend or exact_stop").Word({"blend", "exact_stop"});
  cell.controller.corner = rule == "blend" ? kinematics::CornerRule::kBlend : kinematics::CornerRule::kExactStop;
  if (rule == "exact_stop") corner.Refuse({"distance"}, "goes with rule: blend only: take it out");
  if (const auto distance = corner.Find("distance")) {
    cell.controller.corner_distance_mm =
        distance->Length_mm(Bound::Within(0, 1000, "write how far from a corner the rounding may begin"));
  }
  cell.controller.rapid = map.At("rapid", "write straight or joint: the way a rapid takes")
                                      .Word({"straight", "joint"}) == "straight"
                              ? kinematics::RapidRule::kStraight
                              : kinematics::RapidRule::kJoint;
  cell.controller.cycle_s = map.At("cycle_s", "write the controller's cycle in seconds, such as 0.012")
                                .Number(Bound::Within(1e-4, 1, "write the controller's cycle in seconds"));
  if (const auto moves = map.Find("look_ahead_moves")) {
    cell.controller.look_ahead_moves =
        moves->Integer(1, 100'000, "write how many moves it knows ahead, the running one included");
  }
  if (const auto acceleration = map.Find("tool_acceleration")) {
    cell.controller.tool_acceleration_mm_s2 =
        acceleration->Length_mm(Bound::Positive("write the largest acceleration of the tip, in length per s2", 1e6));
  }
  if (const auto over = map.Find("over_speed")) {
    cell.controller_notes.over_speed =
        over->Word({"slows", "stops"}) == "slows" ? OverSpeed::kSlows : OverSpeed::kStops;
  }
}

}  // namespace aircut::sim
