#pragma once

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// How near an ortho-parallel arm with spherical wrist is to each of its three
/// singular families; every factor is 0 at the singularity.
/// abs(det J) = c2 k * elbow_sin * shoulder_mm * wrist_sin (row KIN-26), with
/// k = sqrt(a2^2 + c3^2).
struct SingularityFactors {
  double wrist_sin = 0.0;    ///< abs(sin theta5)
  double elbow_sin = 0.0;    ///< abs(sin(theta3 + psi))
  double shoulder_mm = 0.0;  ///< distance of the wrist centre from the axis of joint 1, in its plane
  double det_scale_mm2 = 0.0;  ///< c2 * k
};

/// @param parameters geometry; @param theta model angles [rad], size 6.
SingularityFactors Singularity(const SphericalWristParameters& parameters,
                               const JointVector& theta);

}  // namespace aircut::kinematics
