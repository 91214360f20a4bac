#include "kinematics/joint_compliance.h"

#include <stdexcept>
#include <string>

#include "kinematics/jacobian.h"

namespace aircut::kinematics {
namespace {

constexpr double kMm_m = 1000.0;

Eigen::Matrix3Xd Travel(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FQ) {
  return JacobianFromFoot(arm, q, p_FQ).topRows<3>();
}

}  // namespace

Eigen::Matrix3d JointCompliance(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FQ,
                                const Eigen::Vector3d& p_FP, const std::vector<double>& stiffness_nm_rad) {
  if (stiffness_nm_rad.size() != arm.chain().size()) {
    throw std::invalid_argument("stiffness_nm_rad has " + std::to_string(stiffness_nm_rad.size()) +
                                " entries, must have one per joint of the chain");
  }
  const Eigen::Matrix3Xd J_Q = Travel(arm, q, p_FQ);
  const Eigen::Matrix3Xd J_P = p_FP == p_FQ ? J_Q : Travel(arm, q, p_FP);
  Eigen::Matrix3d C = Eigen::Matrix3d::Zero();
  for (std::size_t j = 0; j < stiffness_nm_rad.size(); ++j) {
    const double stiffness_nmm = kMm_m * stiffness_nm_rad[j];
    if (!(stiffness_nmm > 0.0)) {
      throw std::invalid_argument("stiffness_nm_rad[" + std::to_string(j) + "] must be > 0");
    }
    const auto column = static_cast<Eigen::Index>(j);
    C += J_Q.col(column) * J_P.col(column).transpose() / stiffness_nmm;
  }
  return C;
}

Eigen::Matrix3Xd JointShifts(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FQ,
                             const std::vector<double>& turn_rad) {
  Eigen::Matrix3Xd shifts = Travel(arm, q, p_FQ);
  for (Eigen::Index j = 0; j < shifts.cols(); ++j) shifts.col(j) *= turn_rad[static_cast<std::size_t>(j)];
  return shifts;
}

}  // namespace aircut::kinematics
