#pragma once

#include <random>

#include "kinematics/arm_model.h"
#include "kinematics/frame.h"

namespace aircut::support {

inline double Draw(std::mt19937_64& rng, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(rng);
}

inline Eigen::Vector3d RandomVector(std::mt19937_64& rng, double largest) {
  const double x = Draw(rng, -largest, largest);
  const double y = Draw(rng, -largest, largest);
  const double z = Draw(rng, -largest, largest);
  return {x, y, z};
}

/// Evenly distributed orientation: a quaternion of four normal deviates.
inline Eigen::Matrix3d RandomRotation(std::mt19937_64& rng) {
  std::normal_distribution<double> normal;
  const double w = normal(rng), x = normal(rng), y = normal(rng), z = normal(rng);
  return Eigen::Quaterniond(w, x, y, z).normalized().toRotationMatrix();
}

inline kinematics::Pose RandomPose(std::mt19937_64& rng, double largest_mm) {
  const Eigen::Matrix3d R = RandomRotation(rng);
  return kinematics::MakePose(R, RandomVector(rng, largest_mm));
}

/// Panel values inside the ranges [rad].
inline kinematics::JointVector RandomPanelValues(std::mt19937_64& rng,
                                                 const kinematics::ArmModel& arm) {
  kinematics::JointVector q(arm.joint_count());
  Eigen::Index i = 0;
  for (const kinematics::JointSpec& joint : arm.joints()) {
    q[i++] = Draw(rng, joint.lower_rad, joint.upper_rad);
  }
  return q;
}

}  // namespace aircut::support
