#pragma once

#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/units.h"

namespace aircut::support {

/// Made-up six-axis arm whose wrist centre reaches 2.7 m from axis 1.
/// Panel values all zero: upper arm straight up, forearm level and forward,
/// flange facing +x of B.
inline kinematics::SphericalWristParameters SampleArmParameters() {
  kinematics::SphericalWristParameters p;
  p.a1_mm = 350, p.a2_mm = -100, p.b_mm = 0;
  p.c1_mm = 780, p.c2_mm = 1100, p.c3_mm = 1246, p.c4_mm = 200;
  return p;
}

/// Range, speed and acceleration of one joint in degrees; sign +1, zero 0.
inline kinematics::JointSpec JointInDegrees(double lower, double upper, double speed,
                                            double acceleration) {
  kinematics::JointSpec joint;
  joint.lower_rad = kinematics::RadFromDeg(lower);
  joint.upper_rad = kinematics::RadFromDeg(upper);
  joint.speed_rad_s = kinematics::RadFromDeg(speed);
  joint.acceleration_rad_s2 = kinematics::RadFromDeg(acceleration);
  return joint;
}

inline std::vector<kinematics::JointSpec> SampleArmJoints() {
  std::vector<kinematics::JointSpec> joints = {
      JointInDegrees(-185, 185, 105, 260), JointInDegrees(-65, 85, 100, 240),
      JointInDegrees(-120, 155, 110, 280), JointInDegrees(-350, 350, 170, 500),
      JointInDegrees(-122, 122, 165, 480), JointInDegrees(-350, 350, 230, 700)};
  joints[2].zero_rad = kinematics::kPi / 2;
  return joints;
}

inline kinematics::ArmModel SampleArm() {
  return kinematics::ArmModel::FromSphericalWrist(SampleArmParameters(), SampleArmJoints());
}

/// `count` joints with sign +1, zero 0 and a range of one turn about 0.
inline std::vector<kinematics::JointSpec> PlainJoints(int count) {
  return std::vector<kinematics::JointSpec>(static_cast<std::size_t>(count),
                                            JointInDegrees(-180, 180, 100, 300));
}

/// Panel values given in degrees.
inline kinematics::JointVector PanelFromDeg(const std::vector<double>& q_deg) {
  kinematics::JointVector q(static_cast<Eigen::Index>(q_deg.size()));
  Eigen::Index i = 0;
  for (const double angle_deg : q_deg) q[i++] = kinematics::RadFromDeg(angle_deg);
  return q;
}

}  // namespace aircut::support
