#pragma once

#include <vector>

#include "kinematics/arm_model.h"
#include "tests/support/sample_arm.h"

namespace aircut::support {

// Arms of published tables, lengths in mm (the sources print metres).
// Rows KIN-.. are those of the project's list of external checks.

inline constexpr double kMm_m = 1000.0;

/// Published convention: model angle = sign * panel - offset.
inline std::vector<kinematics::JointSpec> PublishedJoints(const std::vector<double>& offset_deg,
                                                          const std::vector<double>& sign) {
  std::vector<kinematics::JointSpec> joints = PlainJoints(6);
  for (std::size_t i = 0; i < joints.size(); ++i) {
    joints[i].zero_rad = -kinematics::RadFromDeg(offset_deg[i]);
    joints[i].sign = sign[i];
  }
  return joints;
}

/// @param lengths_m a1, a2, b, c1, c2, c3, c4.
inline kinematics::SphericalWristParameters ParametersFromMetres(
    const std::vector<double>& lengths_m) {
  kinematics::SphericalWristParameters p;
  p.a1_mm = lengths_m[0] * kMm_m, p.a2_mm = lengths_m[1] * kMm_m, p.b_mm = lengths_m[2] * kMm_m;
  p.c1_mm = lengths_m[3] * kMm_m, p.c2_mm = lengths_m[4] * kMm_m, p.c3_mm = lengths_m[5] * kMm_m;
  p.c4_mm = lengths_m[6] * kMm_m;
  return p;
}

/// KIN-15, first set. Joint 3 reads 0 with the forearm level.
inline kinematics::SphericalWristParameters ArmAParameters() {
  return ParametersFromMetres({.1, -.135, 0, .615, .705, .755, .085});
}
inline std::vector<kinematics::JointSpec> ArmAJoints() {
  return PublishedJoints({0, 0, -90, 0, 0, 0}, {1, 1, 1, 1, 1, 1});
}
inline kinematics::ArmModel ArmA() {
  return kinematics::ArmModel::FromSphericalWrist(ArmAParameters(), ArmAJoints());
}

/// Signs and offsets of the second to fourth set of KIN-15.
inline std::vector<kinematics::JointSpec> ArmBJoints() {
  return PublishedJoints({0, -90, 0, 0, 0, 0}, {-1, 1, 1, -1, 1, -1});
}

/// KIN-15, second set.
inline kinematics::SphericalWristParameters ArmBParameters() {
  return ParametersFromMetres({.025, -.035, 0, .4, .315, .365, .08});
}
inline kinematics::ArmModel ArmB() {
  return kinematics::ArmModel::FromSphericalWrist(ArmBParameters(), ArmBJoints());
}

/// KIN-15, third set.
inline kinematics::ArmModel ArmC() {
  return kinematics::ArmModel::FromSphericalWrist(
      ParametersFromMetres({.15, -.02, 0, .45, .61, .66, .08}), ArmBJoints());
}

/// KIN-15, fourth set.
inline kinematics::ArmModel ArmD() {
  return kinematics::ArmModel::FromSphericalWrist(
      ParametersFromMetres({.33, -.115, 0, .645, 1.35, 1.42, .215}), ArmBJoints());
}

/// @param a_m, alpha_deg, d_m: columns of a standard Denavit-Hartenberg table.
inline kinematics::ArmModel DhArm(const std::vector<double>& a_m,
                                  const std::vector<double>& alpha_deg,
                                  const std::vector<double>& d_m) {
  std::vector<kinematics::DhRow> rows(a_m.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    rows[i].a_mm = a_m[i] * kMm_m;
    rows[i].alpha_rad = kinematics::RadFromDeg(alpha_deg[i]);
    rows[i].d_mm = d_m[i] * kMm_m;
  }
  return kinematics::ArmModel::FromDhStandard(rows, PlainJoints(static_cast<int>(rows.size())));
}

/// KIN-01: the shoulder stands 150 mm beside axis 1. Parameters after Corke and
/// Armstrong-Helouvry, "A search for consensus among model parameters", ICRA 1994.
inline kinematics::ArmModel ArmE() {
  return DhArm({0, .4318, .0203, 0, 0, 0}, {90, 0, -90, 90, -90, 0}, {0, 0, .15005, .4318, 0, 0});
}

/// KIN-14: a small arm with spherical wrist as a standard table.
inline kinematics::ArmModel ArmF() {
  return DhArm({.07, .36, 0, 0, 0, 0}, {-90, 0, 90, -90, 90, 90}, {.352, 0, 0, .38, 0, .065});
}

/// @param a_m, alpha_deg, d_m: columns of a modified Denavit-Hartenberg table.
inline kinematics::ArmModel ModifiedDhArm(const std::vector<double>& a_m,
                                          const std::vector<double>& alpha_deg,
                                          const std::vector<double>& d_m) {
  std::vector<kinematics::ModifiedDhRow> rows(a_m.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    rows[i].a_mm = a_m[i] * kMm_m;
    rows[i].alpha_rad = kinematics::RadFromDeg(alpha_deg[i]);
    rows[i].d_mm = d_m[i] * kMm_m;
  }
  return kinematics::ArmModel::FromDhModified(rows, PlainJoints(static_cast<int>(rows.size())));
}

/// KIN-12: the arm of KIN-01 as a modified table. Source: Armstrong, Khatib and
/// Burdick, ICRA 1986.
inline kinematics::ArmModel ArmG() {
  return ModifiedDhArm({0, 0, .4318, -.0203, 0, 0}, {0, -90, 0, 90, -90, 90},
                       {0, .2435, -.0934, .4331, 0, 0});
}

/// KIN-36: a seven-axis arm as a modified table.
inline kinematics::ArmModel ArmH() {
  return ModifiedDhArm({0, 0, 0, .0825, -.0825, 0, .088}, {0, -90, 90, 90, -90, 90, 90},
                       {.333, 0, .316, 0, .384, 0, .107});
}

}  // namespace aircut::support
