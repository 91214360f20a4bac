#include "kinematics/corner_blend.h"

#include <cmath>
#include <limits>

#include "kinematics/external_axes.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

// A shorter reach rounds nothing that counts [mm].
constexpr double kLeastReach_mm = 1e-4;
constexpr double kMostCorner_rad = RadFromDeg(150.0);
// Below this turn arc and chord are the same to the last digit.
constexpr double kStraightOn_rad = 1e-9;
// Step of the difference over shares: rounding and curvature both stay below 1e-9.
constexpr double kShareStep = 1e-5;

double AngleBetween(const Eigen::Vector3d& a, const Eigen::Vector3d& b) {
  return std::atan2(a.cross(b).norm(), a.dot(b));
}

// Rotation vector per unit of the share, in the frame that both are seen from.
Eigen::Vector3d Turning(const Eigen::Quaterniond& before, const Eigen::Quaterniond& after,
                        const double span) {
  const Eigen::AngleAxisd turned(after * before.conjugate());
  return turned.axis() * (turned.angle() / span);
}

}  // namespace

std::optional<CornerBlend> CornerBlend::Between(const StraightMove& before,
                                                const StraightMove& after, const double reach_mm) {
  if (!before.tip_travels() || !after.tip_travels() || reach_mm < kLeastReach_mm) return std::nullopt;
  if (before.X_FT().matrix() != after.X_FT().matrix()) return std::nullopt;
  const Eigen::Vector3d along = before.step_S().normalized(), onwards = after.step_S().normalized();
  CornerBlend blend;
  blend.corner_rad_ = AngleBetween(along, onwards);
  if (blend.corner_rad_ > kMostCorner_rad) return std::nullopt;
  const double leave = 1.0 - reach_mm / before.travel_mm(), join = reach_mm / after.travel_mm();
  const Pose X_from = before.ToolPose(leave), X_corner = after.ToolPose(0.0), X_to = after.ToolPose(join);
  blend.X_BS_ = before.X_BS();
  blend.X_FT_ = before.X_FT();
  blend.X_TF_ = before.X_FT().inverse();
  blend.external_ = before.external();
  blend.p_from_S_ = X_from.translation();
  blend.along_S_ = along;
  blend.inwards_S_ = (onwards - along * along.dot(onwards)).normalized();
  blend.R_from_ = Eigen::Quaterniond(X_from.linear()).normalized();
  blend.R_corner_ = Eigen::Quaterniond(X_corner.linear()).normalized();
  blend.R_to_ = Eigen::Quaterniond(X_to.linear()).normalized();
  blend.e_from_ = before.External(leave);
  blend.e_corner_ = after.External(0.0);
  blend.e_to_ = after.External(join);
  blend.reach_mm_ = reach_mm;
  const double half = 0.5 * blend.corner_rad_;
  blend.stretch_ = blend.corner_rad_ > kStraightOn_rad ? std::tan(half) / half : 1.0;
  blend.arc_mm_ = 2.0 * reach_mm / blend.stretch_;
  // Quadratic: the rates go from twice the one half to twice the other.
  blend.turn_rad_ = 2.0 * std::fmax(blend.R_from_.angularDistance(blend.R_corner_),
                                    blend.R_corner_.angularDistance(blend.R_to_));
  return blend;
}

// Cubic in the share, so that the tip's speed goes over into that of both moves.
double CornerBlend::ArcAngle(const double share) const {
  const double k = stretch_, u = share;
  return corner_rad_ * u * (k + u * (3.0 - 3.0 * k + u * (2.0 * k - 2.0)));
}

double CornerBlend::ArcRate(const double share) const {
  const double k = stretch_, u = share;
  return k + u * (6.0 - 6.0 * k + u * (6.0 * k - 6.0));
}

double CornerBlend::TipSpeed(const double share) const { return ArcRate(share) / stretch_; }

double CornerBlend::radius_mm() const {
  if (corner_rad_ <= kStraightOn_rad) return std::numeric_limits<double>::infinity();
  return reach_mm_ / std::tan(0.5 * corner_rad_);
}

double CornerBlend::deviation_mm() const { return reach_mm_ * std::tan(0.25 * corner_rad_); }

double CornerBlend::tilt_rad() const {
  return R_corner_.angularDistance(Eigen::Quaterniond(ToolPose(0.5).linear()));
}

Pose CornerBlend::ToolPose(const double share) const {
  const Eigen::Quaterniond first = R_from_.slerp(share, R_corner_);
  const Eigen::Quaterniond second = R_corner_.slerp(share, R_to_);
  Eigen::Vector3d p_S = p_from_S_;
  if (corner_rad_ > kStraightOn_rad) {
    const double angle = ArcAngle(share), half = std::sin(0.5 * angle);
    p_S += radius_mm() * (std::sin(angle) * along_S_ + 2.0 * half * half * inwards_S_);
  } else {
    p_S += 2.0 * reach_mm_ * share * along_S_;
  }
  return MakePose(first.slerp(share, second).normalized().toRotationMatrix(), p_S);
}

JointVector CornerBlend::External(const double share) const {
  const JointVector first = e_from_ + share * (e_corner_ - e_from_);
  const JointVector second = e_corner_ + share * (e_to_ - e_corner_);
  return first + share * (second - first);
}

JointVector CornerBlend::ExternalRates(const double share) const {
  const JointVector per_share =
      2.0 * ((1.0 - share) * (e_corner_ - e_from_) + share * (e_to_ - e_corner_));
  return per_share / length();
}

Pose CornerBlend::WorkInFootAt(const double share) const {
  if (e_from_.size() == 0) return X_BS_;
  return WorkInFoot(*external_.arm, X_BS_, External(share));
}

Pose CornerBlend::FlangePose(const double share) const {
  return WorkInFootAt(share) * ToolPose(share) * X_TF_;
}

Twist CornerBlend::TwistInFoot(const double share) const {
  const Pose X_AS = WorkInFootAt(share);
  // One-sided at neither end: the curve goes on beyond both.
  const Pose before = WorkInFootAt(share - kShareStep) * ToolPose(share - kShareStep);
  const Pose after = WorkInFootAt(share + kShareStep) * ToolPose(share + kShareStep);
  const double span = 2.0 * kShareStep * length();
  Twist twist;
  twist.tail<3>() = Turning(Eigen::Quaterniond(before.linear()), Eigen::Quaterniond(after.linear()), span);
  if (e_from_.size() == 0) {
    const double angle = ArcAngle(share);
    const Eigen::Vector3d direction_S = std::cos(angle) * along_S_ + std::sin(angle) * inwards_S_;
    twist.head<3>() = X_AS.linear() * direction_S * TipSpeed(share);
  } else {
    twist.head<3>() = (after.translation() - before.translation()) / span;
  }
  return twist;
}

}  // namespace aircut::kinematics
