// What cells and jobs say about axes outside the arm: tracks and turntables.
#include <algorithm>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "sim/cell_yaml.h"
#include "sim/job_parts.h"
#include "sim/nearest_word.h"

namespace aircut::sim {
namespace {

using kinematics::ArmModel;
using kinematics::ExternalAxis;
using kinematics::ExternalKind;
using kinematics::ExternalSide;
using kinematics::JointSpec;
using kinematics::JointVector;

// An angle, or a length where the axis slides; `angle` and `length_mm` are bounds.
struct AxisBounds {
  Bound angle, length_mm;
};

double ReadValue(const YamlValue& value, ExternalKind kind, const AxisBounds& bounds) {
  return kind == ExternalKind::kSlide ? value.Length_mm(bounds.length_mm) : value.Angle_rad(bounds.angle);
}

AxisBounds Either(const std::string& mend) {
  return {Bound::Within(-100, 100, mend), Bound::Within(-1e5, 1e5, mend)};
}
AxisBounds Positive(const std::string& mend) {
  return {Bound::Positive(mend, 1e5), Bound::Positive(mend, 1e6)};
}

ExternalAxis ReadAxis(const YamlMap& map, const std::vector<ExternalAxis>& before) {
  ExternalAxis axis;
  const YamlValue name = map.At("name", "write a name for the axis, such as track");
  axis.name = name.Text();
  for (const ExternalAxis& other : before) {
    if (other.name == axis.name)
      name.Fail(fmt::format("= {:.60} is the name of another axis: choose one of its own", axis.name));
  }
  const std::string side =
      map.At("side",
             "write tool for an axis that carries the arm, work for one that carries the "
             "workpiece")
          .Word({"tool", "work"});
  axis.side = side == "tool" ? ExternalSide::kTool : ExternalSide::kWork;
  const std::string kind = map.At("kind", "write slide or turn").Word({"slide", "turn"});
  axis.kind = kind == "slide" ? ExternalKind::kSlide : ExternalKind::kTurn;
  axis.direction_B =
      map.At("along", "write the direction of the axis in the base, such as [1, 0, 0]").Direction();
  if (axis.kind == ExternalKind::kSlide) {
    map.Refuse({"through"}, "goes with kind: turn only: take it out");
  } else {
    axis.p_B = map.At("through", "write a point of the axis in the base, [x, y, z]").Point_mm();
  }
  return axis;
}

JointSpec ReadSpec(const YamlMap& map, ExternalKind kind) {
  JointSpec joint;
  const YamlValue range = map.At("range", "write range: [lowest, highest]");
  const std::vector<YamlValue> ends = range.Items(2);
  const AxisBounds panel = Either("write the value as the panel shows it");
  joint.lower_rad = ReadValue(ends[0], kind, panel);
  joint.upper_rad = ReadValue(ends[1], kind, panel);
  if (!(joint.upper_rad > joint.lower_rad)) range.Fail("must be [lowest, highest]: swap or mend the ends");
  const std::string speed = "write the largest speed of the axis, angle or length per second";
  joint.speed_rad_s = ReadValue(map.At("speed", speed), kind, Positive(speed));
  const std::string acceleration =
      "write the largest acceleration of the axis, angle or length per second squared";
  joint.acceleration_rad_s2 = ReadValue(map.At("acceleration", acceleration), kind, Positive(acceleration));
  const YamlValue sign = map.At("sign", "write 1 if the panel counts along the axis, else -1");
  joint.sign = sign.Integer(-1, 1, "write 1 or -1");
  if (joint.sign == 0) sign.Fail("= 0 must be 1 or -1: write which way the panel counts");
  const std::string zero = "write the model value at panel value 0: 0 where the cell's frames hold there";
  joint.zero_rad = ReadValue(map.At("zero", zero), kind, Either(zero));
  return joint;
}

int IndexOf(const YamlValue& name, const ArmModel& arm) {
  std::vector<std::string> names;
  for (const ExternalAxis& axis : arm.externals()) names.push_back(axis.name);
  const std::string word = name.Text();
  const auto found = std::find(names.begin(), names.end(), word);
  if (found == names.end()) {
    name.Fail(fmt::format("= {:.60} is not an axis of arm.external in the cell{}: mend the name", word,
                          DidYouMean(word, names)));
  }
  return static_cast<int>(found - names.begin());
}

void ReadPlace(const YamlMap& map, const ArmModel& arm, std::vector<bool>* named, ExternalRule* rule) {
  const YamlValue name = map.At("name", "write the name of an axis of arm.external in the cell");
  const int index = IndexOf(name, arm);
  const auto k = static_cast<std::size_t>(index);
  if ((*named)[k]) name.Fail("is named twice: keep one");
  (*named)[k] = true;
  const YamlValue at = map.At("at", "write where the axis stands on the path, or free");
  if (at.IsScalar() && at.node().scalar == "free") {
    rule->is_free[k] = true;
    return;
  }
  const int joint = static_cast<int>(arm.chain().size()) + index;
  const double value = ReadJointValue(at, arm, joint);
  const JointSpec& spec = arm.joints()[static_cast<std::size_t>(joint)];
  if (!(value >= spec.lower_rad && value <= spec.upper_rad)) {
    at.Fail("lies outside the range of the axis: write a value inside arm.external range");
  }
  rule->at[index] = value;
}

}  // namespace

void ReadExternals(const YamlValue& external, Cell& cell) {
  std::vector<ExternalAxis> axes;
  std::vector<JointSpec> joints;
  const std::size_t room = static_cast<std::size_t>(kinematics::kMaxJoints) - cell.arm->joints().size();
  for (const YamlValue& item : external.ItemsOrNone()) {
    if (axes.size() == room) {
      item.Fail(fmt::format("is one axis too many, an arm of {} joints takes {}: take it out",
                            cell.arm->joint_count(), room));
    }
    const YamlMap map = item.Map(
        {"name", "side", "kind", "through", "along", "range", "speed", "acceleration", "sign", "zero"});
    const ExternalAxis axis = ReadAxis(map, axes);
    joints.push_back(ReadSpec(map, axis.kind));
    axes.push_back(axis);
  }
  try {
    cell.arm = std::make_shared<const ArmModel>(cell.arm->WithExternals(std::move(axes), std::move(joints)));
  } catch (const std::invalid_argument& error) {
    external.Fail(fmt::format("does not describe axes ({}): mend them", error.what()));
  }
}

ExternalRule ReadExternalRule(const YamlMap& top, const ArmModel& arm, const JointVector& home) {
  ExternalRule rule;
  rule.at = kinematics::ExternalPart(arm, home);
  rule.is_free.assign(arm.externals().size(), false);
  const auto value = top.Find("external");
  if (!value) return rule;
  if (arm.externals().empty())
    value->Fail("needs axes of arm.external in the cell, which has none: take it out");
  const YamlMap map = value->Map({"axes", "samples"});
  std::vector<bool> named(arm.externals().size(), false);
  for (const YamlValue& item : map.At("axes", "write axes: [{name: .., at: ..}]").Items()) {
    ReadPlace(item.Map({"name", "at"}), arm, &named, &rule);
  }
  const bool any_free = std::find(rule.is_free.begin(), rule.is_free.end(), true) != rule.is_free.end();
  if (!any_free) map.Refuse({"samples"}, "goes with an axis whose at is free only: take it out");
  if (const auto samples = map.Find("samples")) {
    rule.samples = samples->Integer(2, 1000, "write how many values of a free axis are tried, such as 9");
  }
  return rule;
}

}  // namespace aircut::sim
