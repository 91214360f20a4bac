#include "kinematics/joint_room.h"

#include <cmath>
#include <iomanip>
#include <sstream>

#include "kinematics/external_axes.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

JointRoom RoomInside(const double value_rad, const double lower_rad, const double upper_rad) {
  const double below_rad = value_rad - lower_rad, above_rad = upper_rad - value_rad;
  return {above_rad < below_rad ? above_rad : below_rad, value_rad, lower_rad, upper_rad, false};
}

}  // namespace

JointRoom RoomOf(const ArmModel& arm, const JointVector& q, const int joint) {
  const JointSpec& spec = arm.joints()[static_cast<std::size_t>(joint)];
  const JointRoom own = RoomInside(q[joint], spec.lower_rad, spec.upper_rad);
  if (!spec.sum_limit) return own;
  const SumLimit& limit = *spec.sum_limit;
  JointRoom sum =
      RoomInside(q[joint] + limit.ratio * q[limit.joint], limit.lower_rad, limit.upper_rad);
  sum.of_sum = true;
  // Written so that a sum that is not a number counts as the tighter one.
  return own.room_rad <= sum.room_rad || std::isnan(own.room_rad) ? own : sum;
}

std::string NameOfJoint(const int joint) { return "joint " + std::to_string(joint + 1); }

std::string NameOfJoint(const ArmModel& arm, const int joint) {
  const auto external = static_cast<std::size_t>(joint) - arm.chain().size();
  const bool is_named =
      joint >= static_cast<int>(arm.chain().size()) && !arm.externals()[external].name.empty();
  return is_named ? NameOfJoint(joint) + " (" + arm.externals()[external].name + ")" : NameOfJoint(joint);
}

std::string ShownOf(const ArmModel& arm, const int joint, const double value) {
  std::ostringstream text;
  const bool slides = IsSlide(arm, joint);
  text << std::fixed << std::setprecision(2) << (slides ? value : DegFromRad(value))
       << (slides ? " mm" : " deg");
  return text.str();
}

std::string NameOfSum(const int joint, const SumLimit& limit) {
  std::ostringstream text;
  text << NameOfJoint(joint) << (limit.ratio < 0.0 ? " - " : " + ");
  const double size = std::abs(limit.ratio);
  if (size != 1.0) text << size << " * ";
  text << NameOfJoint(limit.joint);
  return text.str();
}

}  // namespace aircut::kinematics
