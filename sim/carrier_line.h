#pragma once

#include <vector>

#include "kinematics/arm_model.h"
#include "sim/body_mount.h"

namespace aircut::sim {

/// One joint of a CarrierLine, between the carriers `k` and `k + 1`.
struct CarrierJoint {
  int joint = 0;  ///< index in a JointVector
  bool slides = false;
  /// A point of the axis (of a slide: any) and its direction, in the frame of the
  /// carrier before the joint and of the one behind it, the slide at 0.
  Eigen::Vector3d p_before, p_behind;
  Eigen::Vector3d axis_before, axis_behind;
};

/// Everything that can carry a body, in one line: what the work stands on, the
/// axes under it, the room, the axes under the arm, its foot, its links out to the
/// flange. Neighbours in the line are joined by one joint, so that whatever two
/// bodies do to each other is done by the joints between their carriers.
class CarrierLine {
 public:
  explicit CarrierLine(const kinematics::ArmModel& arm);

  int count() const { return static_cast<int>(joints_.size()) + 1; }
  int room() const { return room_; }
  int foot() const { return foot_; }
  /// @returns the place in the line of what carries a body.
  int CarrierOf(const BodyMount& mount) const;
  /// joints()[k] lies between the carriers k and k + 1.
  const std::vector<CarrierJoint>& joints() const { return joints_; }

  /// Appends X_WC of every carrier, in the order of the line; that of the room is X_WB.
  void AppendPoses(const kinematics::JointVector& q, const kinematics::Pose& X_WB,
                   std::vector<kinematics::Pose>* poses) const;

 private:
  const kinematics::ArmModel& arm_;
  std::vector<CarrierJoint> joints_;
  int room_ = 0, foot_ = 0;
};

}  // namespace aircut::sim
