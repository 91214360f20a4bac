#include "sim/joints_yaml.h"

#include <algorithm>
#include <tuple>

#include <fmt/format.h>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

using kinematics::JointSpec;
using kinematics::DegFromRad;
using kinematics::RadFromDeg;

constexpr double kSameAngle_rad = 1e-4;   // descriptions round their limits
// What six-axis arms of a carving shop reach; the slow end stands for a silent cell.
constexpr double kSlowest_deg_s2 = 100.0, kFastest_deg_s2 = 800.0;

Bound PanelAngle() { return Bound::Within(-100, 100, "write an angle as the panel shows it"); }

std::pair<double, double> ReadRange(const YamlValue& range) {
  const std::vector<YamlValue> ends = range.Items(2);
  const std::pair<double, double> read = {ends[0].Angle_rad(PanelAngle()), ends[1].Angle_rad(PanelAngle())};
  if (!(read.second > read.first)) range.Fail("must be [lowest, highest]: swap or mend the ends");
  return read;
}

void ReadAcceleration(const YamlMap& map, JointSpec& joint, std::vector<AssumedValue>& assumed) {
  const std::string mend = "write the largest joint acceleration, angle per second squared";
  if (const auto given = map.Find("acceleration")) {
    joint.acceleration_rad_s2 = given->Angle_rad(Bound::Positive(mend, 1e5));
    return;
  }
  joint.acceleration_rad_s2 = RadFromDeg(kSlowest_deg_s2);
  assumed.push_back({map.value().path() + ".acceleration", kSlowest_deg_s2, kSlowest_deg_s2, kFastest_deg_s2,
                     "deg/s2", "from memory, range of data sheets of six-axis arms of 20 to 300 kg payload"});
}

// Index of the earlier joint that `value` names.
int EarlierJoint(const YamlValue& value, int index) {
  if (index == 0) value.Fail("belongs to the first joint, which has none before it: take the coupling out");
  return value.Integer(1, index, "name an earlier joint, counted from 1") - 1;
}

kinematics::JointFollow ReadFollows(const YamlValue& value, int index) {
  const YamlMap map = value.Map({"joint", "ratio"});
  kinematics::JointFollow follow;
  follow.joint = EarlierJoint(map.At("joint", "write the number of the joint that drives"), index);
  follow.ratio = map.At("ratio", "write the ratio, such as -1")
                     .Number(Bound::Within(-10, 10, "write the ratio, such as -1"));
  return follow;
}

kinematics::SumLimit ReadSumRange(const YamlValue& value, int index) {
  const YamlMap map = value.Map({"with", "ratio", "range"});
  kinematics::SumLimit limit;
  limit.joint = EarlierJoint(map.At("with", "write the number of the joint that shares the range"), index);
  limit.ratio = map.At("ratio", "write the factor of the other joint in the sum, such as 1")
                    .Number(Bound::Within(-10, 10, "write the factor, such as 1"));
  std::tie(limit.lower_rad, limit.upper_rad) =
      ReadRange(map.At("range", "write range: [lowest, highest] of the sum"));
  return limit;
}

// Name and sense of the joint: what the range of a description is converted with.
void ReadSense(const YamlMap& map, const DescribedJoint* described, JointSpec& joint) {
  if (described == nullptr) map.Refuse({"name"}, "goes with kinematics form urdf only: take it out");
  if (const auto name = map.Find("name"); name && name->Text() != described->name) {
    name->Fail(fmt::format("= {:.60} is not joint {:.60} of the robot description: list the joints in its order",
                           name->Text(), described->name));
  }
  const YamlValue sign = map.At("sign", "write 1 if the panel counts as the model turns, else -1");
  joint.sign = sign.Integer(-1, 1, "write 1 or -1");
  if (joint.sign == 0) sign.Fail("= 0 must be 1 or -1: write which way the panel counts");
  joint.zero_rad = map.At("zero", "write the model angle at panel value 0").Angle_rad(PanelAngle());
}

// A range of the model's angle as the panel shows it.
std::pair<double, double> OnPanel(const JointSpec& joint, const std::pair<double, double>& model_rad) {
  const double a = joint.sign * (model_rad.first - joint.zero_rad);
  const double b = joint.sign * (model_rad.second - joint.zero_rad);
  return {std::min(a, b), std::max(a, b)};
}

// A cell may narrow what the description says, not widen it.
void RequireWithin(const YamlValue& written, const std::pair<double, double>& typed,
                   const std::pair<double, double>& described) {
  if (typed.first >= described.first - kSameAngle_rad && typed.second <= described.second + kSameAngle_rad) return;
  written.Fail(fmt::format("must lie within the robot description's {:.6g} to {:.6g} degrees on the panel: mend the "
                           "range, sign or zero", DegFromRad(described.first), DegFromRad(described.second)));
}

JointSpec ReadJoint(const YamlMap& map, int index, const DescribedJoint* described) {
  JointSpec joint;
  ReadSense(map, described, joint);
  if (const auto follows = map.Find("follows")) joint.follows = ReadFollows(*follows, index);
  if (const auto sum = map.Find("sum_range")) joint.sum_limit = ReadSumRange(*sum, index);
  // A coupled joint's own range is none of its model angle.
  const bool is_bounded = described != nullptr && described->range_rad && !joint.follows;
  std::pair<double, double> range = is_bounded ? OnPanel(joint, *described->range_rad) : std::pair(0.0, 0.0);
  if (!is_bounded || map.Has("range")) {
    const YamlValue written = map.At("range", "write range: [lowest, highest]");
    const std::pair<double, double> typed = ReadRange(written);
    if (is_bounded) RequireWithin(written, typed, range);
    range = typed;
  }
  std::tie(joint.lower_rad, joint.upper_rad) = range;
  if (described != nullptr && described->speed_rad_s && !map.Has("speed")) {
    joint.speed_rad_s = *described->speed_rad_s;
  } else {
    const std::string mend = "write the largest joint speed, angle per second";
    joint.speed_rad_s = map.At("speed", mend).Angle_rad(Bound::Positive(mend, 1000));
  }
  return joint;
}

JointDrive ReadDrive(const YamlMap& map) {
  JointDrive drive;
  if (const auto stiffness = map.Find("stiffness_nm_rad")) {
    drive.stiffness_nm_rad = stiffness->Number(Bound::Positive("write the stiffness of the joint in N m/rad", 1e12));
  }
  if (const auto lost = map.Find("lost_motion_arcmin")) {
    const double arcmin = lost->Number(Bound::Within(0, 600, "write the lost motion in minutes of arc"));
    drive.lost_motion_rad = RadFromDeg(arcmin / 60);
  }
  return drive;
}

}  // namespace

JointTable ReadJoints(const YamlValue& value, const std::vector<DescribedJoint>& described) {
  JointTable table;
  const std::vector<YamlValue> items = value.Items();
  if (!described.empty() && items.size() != described.size()) {
    value.Fail(fmt::format("has {} joints, must have {} as the robot description: write one entry a joint that "
                           "moves", items.size(), described.size()));
  }
  for (const YamlValue& item : items) {
    const int index = static_cast<int>(table.joints.size());
    if (index == kinematics::kMaxJoints) {
      item.Fail(fmt::format("is one joint too many, at most {} are possible: take it out", kinematics::kMaxJoints));
    }
    const YamlMap map = item.Map({"name", "range", "speed", "acceleration", "sign", "zero", "follows", "sum_range",
                                  "stiffness_nm_rad", "lost_motion_arcmin"});
    JointSpec joint = ReadJoint(map, index, described.empty() ? nullptr : &described[static_cast<std::size_t>(index)]);
    ReadAcceleration(map, joint, table.assumed);
    table.joints.push_back(joint);
    table.drives.push_back(ReadDrive(map));
  }
  return table;
}

}  // namespace aircut::sim
