#pragma once

#include <string>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// How much room a joint has at one place of the arm: to the nearest end of its
/// own range or of a sum limit it carries, whichever is nearer. In mm for a slide.
struct JointRoom {
  double room_rad = 0.0;    ///< to that end; < 0 outside; not a number where `q` is not
  double value_rad = 0.0;   ///< what has that end: the panel value, or the sum
  double lower_rad = 0.0;   ///< ends of the range of `value_rad`
  double upper_rad = 0.0;
  bool of_sum = false;      ///< the end belongs to the sum limit
};

/// @param q panel values [rad], size = arm.joint_count(); @param joint from 0.
JointRoom RoomOf(const ArmModel& arm, const JointVector& q, int joint);

/// @param joint from 0. @returns "joint 3".
std::string NameOfJoint(int joint);

/// @returns the same, and for an external axis its name too: "joint 7 (track)".
std::string NameOfJoint(const ArmModel& arm, int joint);

/// @returns a value, range or margin of the joint as a person reads it:
/// "12.34 deg", or "12.34 mm" for a slide. @param value [rad], or [mm].
std::string ShownOf(const ArmModel& arm, int joint, double value);

/// @returns what a sum limit holds: "joint 3 + joint 2", "joint 3 - joint 2",
/// "joint 3 + 0.5 * joint 2".
std::string NameOfSum(int joint, const SumLimit& limit);

}  // namespace aircut::kinematics
