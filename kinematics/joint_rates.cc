#include "kinematics/joint_rates.h"

#include <cmath>

#include <Eigen/SVD>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/jacobian.h"

namespace aircut::kinematics {
namespace {

// Brings the rows in mm to the size of the rows in rad.
constexpr double kLength_mm = 1000.0;
// A pivot below this part of the largest one marks a singular place.
constexpr double kPivot = 1e-8;
// A twist met within this part of its own size is met.
constexpr double kMet = 1e-6;
// Joint values of the closed form repeat within this [rad].
constexpr double kJointNoise_rad = 1e-11;

Twist Scaled(const Twist& twist_A) {
  Twist scaled = twist_A;
  scaled.head<3>() /= kLength_mm;
  return scaled;
}

// What stands still in the room, seen from the work, moves against the axes under it.
Eigen::Vector3d WorkColumn(const std::vector<Pose>& X_BK, const ExternalAxis& axis, const Eigen::Vector3d& p_BT,
                           const std::size_t before) {
  const Pose X = before == 0 ? Pose::Identity() : X_BK[before - 1];
  const Eigen::Vector3d direction_B = X.linear() * axis.direction_B;
  if (axis.kind == ExternalKind::kSlide) return -direction_B;
  return -direction_B.cross(p_BT - X * axis.p_B);
}

Eigen::Matrix3Xd ExternalColumns(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FT) {
  const JointVector e = ExternalPart(arm, q);
  const std::vector<Pose> X_BK = SidePoses(arm, e, ExternalSide::kWork);
  const Jacobian J = GeometricJacobian(arm, q, p_FT);
  const Eigen::Vector3d p_BT = FlangePose(arm, q) * p_FT;
  Eigen::Matrix3Xd columns_B(3, e.size());
  std::size_t work = 0;
  for (Eigen::Index k = 0; k < e.size(); ++k) {
    const auto joint = static_cast<Eigen::Index>(arm.chain().size()) + k;
    const ExternalAxis& axis = arm.externals()[static_cast<std::size_t>(k)];
    if (axis.side == ExternalSide::kTool) {
      columns_B.col(k) = J.col(joint).head<3>();
    } else {
      const double sign = arm.joints()[static_cast<std::size_t>(joint)].sign;
      columns_B.col(k) = sign * WorkColumn(X_BK, axis, p_BT, work++);
    }
  }
  return FootPose(arm, e).linear().transpose() * columns_B;
}

}  // namespace

JointRates::JointRates(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FT)
    : J_(JacobianFromFoot(arm, q, p_FT)) {
  J_.topRows<3>() /= kLength_mm;
  factors_.compute(J_);
  const Eigen::Matrix<double, 6, 1> pivots = factors_.matrixLU().diagonal().cwiseAbs();
  singular_ = !(pivots.minCoeff() > kPivot * pivots.maxCoeff());
  if (!arm.externals().empty()) external_mm_ = ExternalColumns(arm, q, p_FT);
}

std::optional<JointVector> JointRates::Solve(const Twist& twist_A,
                                             const JointVector& external_rates) const {
  const Twist scaled = Scaled(twist_A);
  std::optional<JointVector> chain;
  if (singular_) {
    chain = SolveSingular(scaled);
  } else {
    const Eigen::Matrix<double, 6, 1> qd = factors_.solve(scaled);
    if (qd.allFinite()) chain = JointVector(qd);
  }
  if (!chain || external_rates.size() == 0) return chain;
  JointVector all(chain->size() + external_rates.size());
  all << *chain, external_rates;
  return all;
}

std::optional<JointVector> JointRates::SolveSingular(const Twist& scaled) const {
  Eigen::JacobiSVD<Eigen::MatrixXd> svd(J_, Eigen::ComputeThinU | Eigen::ComputeThinV);
  svd.setThreshold(kPivot);
  const Eigen::VectorXd qd = svd.solve(scaled);
  if (!qd.allFinite() || !((J_ * qd - scaled).norm() <= kMet * scaled.norm())) return std::nullopt;
  return JointVector(qd);
}

double JointRates::TipSpeed(const JointVector& qd) const {
  Eigen::Vector3d v_mm = J_.topRows<3>() * qd.head<6>() * kLength_mm;
  if (external_mm_.cols() > 0) v_mm += external_mm_ * qd.tail(external_mm_.cols());
  return v_mm.norm();
}

RateBounds BoundRates(const JointVector& step, const JointVector& rates_from,
                      const JointVector& rates_to, const double length) {
  const Eigen::Index count = step.size();
  RateBounds bounds{JointVector(count), JointVector(count), JointVector(count)};
  for (Eigen::Index j = 0; j < count; ++j) {
    const double from = rates_from[j], to = rates_to[j], mean = step[j] / length;
    // rate(u) = from + (to - from) u + bend u (1 - u), u = 0..1, with the mean of the step.
    const double off = mean - 0.5 * (from + to);
    const double noise = kJointNoise_rad / length;
    const double bend = std::abs(off) > noise ? 6.0 * off : 0.0;
    double peak = std::fmax(std::fmax(std::abs(from), std::abs(to)), std::abs(mean));
    const double slope = to - from;
    const double u = bend != 0.0 ? 0.5 * (1.0 + slope / bend) : 0.0;
    if (u > 0.0 && u < 1.0) {
      peak = std::fmax(peak, std::abs(from + slope * u + bend * u * (1.0 - u)));
    }
    bounds.peak[j] = peak;
    bounds.curvature[j] = std::fmax(std::abs(slope + bend), std::abs(slope - bend)) / length;
    bounds.error[j] = std::abs(off);
  }
  return bounds;
}

}  // namespace aircut::kinematics
