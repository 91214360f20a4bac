#include "kinematics/frame.h"

#include <cmath>
#include <sstream>
#include <stdexcept>

namespace aircut::kinematics {

namespace {

// Below this angle the spin about the axis is no longer fixed by `toward`.
constexpr double kSmallestAngle_rad = 1e-6;

}  // namespace

Pose MakePose(const Eigen::Matrix3d& R_AB, const Eigen::Vector3d& p_AB) {
  Pose X_AB = Pose::Identity();
  X_AB.linear() = R_AB;
  X_AB.translation() = p_AB;
  return X_AB;
}

bool IsRigid(const Pose& X_AB, double tolerance) {
  const Eigen::Vector3d x = X_AB.linear().col(0);
  const Eigen::Vector3d y = X_AB.linear().col(1);
  const Eigen::Vector3d z = X_AB.linear().col(2);
  // Written so that NaN fails (a largest coefficient would skip it).
  return std::isfinite(X_AB.translation().sum()) &&
         std::abs(x.squaredNorm() - 1.0) <= tolerance &&
         std::abs(y.squaredNorm() - 1.0) <= tolerance && std::abs(x.dot(y)) <= tolerance &&
         (x.cross(y) - z).norm() <= tolerance;
}

Eigen::Matrix3d RotationFromAxis(const Eigen::Vector3d& axis_A, const Eigen::Vector3d& toward_A) {
  const Eigen::Vector3d z = axis_A.normalized();
  const Eigen::Vector3d along = toward_A.normalized();
  const Eigen::Vector3d across = z.cross(along);
  const double sine = across.norm();
  if (!(sine >= std::sin(kSmallestAngle_rad))) {
    std::ostringstream text;
    text << "RotationFromAxis: the angle between axis_A = (" << axis_A.transpose()
         << ") and toward_A = (" << toward_A.transpose() << ") has sine " << sine
         << ", must be >= " << kSmallestAngle_rad;
    throw std::invalid_argument(text.str());
  }
  Eigen::Matrix3d R;
  // Near the axis the cross product keeps few digits of its direction: square it up again.
  R.col(1) = (across - z * z.dot(across)).normalized();
  R.col(0) = R.col(1).cross(z);
  R.col(2) = z;
  return R;
}

}  // namespace aircut::kinematics
