#include "kinematics/near_spherical_wrist.h"

#include <cmath>
#include <stdexcept>
#include <utility>
#include <vector>

#include <Eigen/LU>

#include "kinematics/axis_lines.h"

namespace aircut::kinematics {
namespace {

constexpr double kMostTurn_rad = 0.3;
// The last three axes must not be so near to parallel that no point is nearest.
constexpr double kLeastSpread = 1e-3;

using Vector3 = Eigen::Vector3d;

// `direction` turned until it is square to `other`; nothing where that takes too much.
std::optional<Vector3> TurnedSquare(const Vector3& direction, const Vector3& other) {
  const double along = direction.dot(other);
  if (!(std::abs(along) <= std::sin(kMostTurn_rad))) return std::nullopt;
  return (direction - along * other).normalized();
}

std::optional<Vector3> TurnedParallel(const Vector3& direction, const Vector3& other) {
  const double along = direction.dot(other);
  if (!(std::abs(along) >= std::cos(kMostTurn_rad))) return std::nullopt;
  return std::copysign(1.0, along) * other;
}

// Least sum of squared distances from the last three axes.
std::optional<Vector3> WristPoint(const std::vector<AxisLine>& axes) {
  Eigen::Matrix3d across = Eigen::Matrix3d::Zero();
  Vector3 sum = Vector3::Zero();
  for (std::size_t i = 3; i < 6; ++i) {
    const Vector3& d = axes[i].direction_B;
    const Eigen::Matrix3d square = Eigen::Matrix3d::Identity() - d * d.transpose();
    across += square;
    sum += square * axes[i].point_B;
  }
  if (!(across.determinant() > kLeastSpread)) return std::nullopt;
  return across.inverse() * sum;
}

bool Straighten(std::vector<AxisLine>& axes) {
  const auto turn = [&axes](const std::size_t i, const std::size_t to, const bool parallel) {
    const Vector3& other = axes[to].direction_B;
    const auto turned = parallel ? TurnedParallel(axes[i].direction_B, other)
                                 : TurnedSquare(axes[i].direction_B, other);
    if (turned) axes[i].direction_B = *turned;
    return turned.has_value();
  };
  return turn(1, 0, false) && turn(2, 1, true) && turn(3, 2, false) && turn(4, 3, false) &&
         turn(5, 4, false);
}

std::vector<ChainJoint> ChainOf(const std::vector<AxisLine>& axes, const Pose& X_BF) {
  std::vector<ChainJoint> chain;
  Vector3 p_last = Vector3::Zero();
  for (const AxisLine& axis : axes) {
    chain.push_back({Pose(Eigen::Translation3d(axis.point_B - p_last)), axis.direction_B,
                     Pose::Identity()});
    p_last = axis.point_B;
  }
  chain.back().after = Eigen::Translation3d(-p_last) * X_BF;
  return chain;
}

}  // namespace

std::optional<ArmModel> NearSphericalWrist(const ArmModel& arm) {
  if (arm.chain().size() != 6) return std::nullopt;
  std::vector<AxisLine> axes = AxesAtZero(arm);
  const std::optional<Vector3> p_BC = WristPoint(axes);
  if (!p_BC || !Straighten(axes)) return std::nullopt;
  for (std::size_t i = 3; i < 6; ++i) axes[i].point_B = *p_BC;
  std::vector<JointSpec> joints(arm.joints().begin(), arm.joints().begin() + 6);
  return ArmModel::FromChain(ChainOf(axes, FlangeAtZero(arm)), std::move(joints));
}

}  // namespace aircut::kinematics
