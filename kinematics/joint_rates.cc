#include "kinematics/joint_rates.h"

#include <cmath>

#include <Eigen/SVD>

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

}  // namespace

JointRates::JointRates(const ArmModel& arm, const JointVector& q, const Eigen::Vector3d& p_FT)
    : J_(JacobianFromFoot(arm, q, p_FT)) {
  J_.topRows<3>() /= kLength_mm;
  factors_.compute(J_);
  const Eigen::Matrix<double, 6, 1> pivots = factors_.matrixLU().diagonal().cwiseAbs();
  singular_ = !(pivots.minCoeff() > kPivot * pivots.maxCoeff());
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
  return (J_.topRows<3>() * qd.head<6>()).norm() * kLength_mm;
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
