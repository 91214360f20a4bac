#include "kinematics/singularity.h"

#include <cmath>
#include <stdexcept>
#include <string>

namespace aircut::kinematics {

SingularityFactors Singularity(const SphericalWristParameters& parameters,
                               const JointVector& theta) {
  if (theta.size() != 6) {
    throw std::invalid_argument("Singularity: theta.size() = " + std::to_string(theta.size()) +
                                " must be 6");
  }
  const double k_mm = std::hypot(parameters.a2_mm, parameters.c3_mm);
  const double psi_rad = std::atan2(parameters.a2_mm, parameters.c3_mm);
  const double forearm_rad = theta[1] + theta[2] + psi_rad;
  SingularityFactors factors;
  factors.wrist_sin = std::abs(std::sin(theta[4]));
  factors.elbow_sin = std::abs(std::sin(theta[2] + psi_rad));
  factors.shoulder_mm = std::abs(parameters.a1_mm + parameters.c2_mm * std::sin(theta[1]) +
                                 k_mm * std::sin(forearm_rad));
  factors.det_scale_mm2 = parameters.c2_mm * k_mm;
  return factors;
}

}  // namespace aircut::kinematics
