#include "kinematics/manipulability.h"

#include <cmath>

#include <Eigen/LU>
#include <Eigen/SVD>

#include "kinematics/jacobian.h"

namespace aircut::kinematics {

JointVector SingularValues(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FQ,
                           const double length_mm) {
  Jacobian J = JacobianFromFoot(arm, q, p_FQ);
  J.topRows<3>() /= length_mm;
  return Eigen::JacobiSVD<Jacobian>(J).singularValues();
}

double SmallestSingularValue(const ArmModel& arm, const JointVector& q,
                             const Eigen::Vector3d& p_FQ, const double length_mm) {
  const JointVector values = SingularValues(arm, q, p_FQ, length_mm);
  return values[values.size() - 1];
}

double Manipulability(const Jacobian& J, const double length_mm, const Rows rows) {
  Jacobian scaled = J;
  scaled.topRows<3>() /= length_mm;
  if (rows == Rows::kAll) return std::sqrt(std::fmax((scaled * scaled.transpose()).determinant(), 0.0));
  const Eigen::Matrix<double, 3, Eigen::Dynamic> part =
      rows == Rows::kTranslation ? scaled.topRows<3>() : scaled.bottomRows<3>();
  return std::sqrt(std::fmax((part * part.transpose()).determinant(), 0.0));
}

}  // namespace aircut::kinematics
