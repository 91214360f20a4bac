#include "kinematics/straight_move.h"

#include "kinematics/external_axes.h"

namespace aircut::kinematics {
namespace {

// Step of the central difference over external axes, in shares of a move: its
// error is of the order of its square.
constexpr double kShareStep = 1e-4;

}  // namespace

StraightMove::StraightMove(const Pose& X_BS, const Pose& X_FT, const Pose& X_ST_from,
                           const Pose& X_ST_to, const ExternalRun& external)
    : external_(external), X_BS_(X_BS), X_FT_(X_FT), X_TF_(X_FT.inverse()), X_ST_from_(X_ST_from),
      step_S_(X_ST_to.translation() - X_ST_from.translation()) {
  const Eigen::AngleAxisd turn(
      Eigen::Quaterniond(X_ST_to.linear() * X_ST_from.linear().transpose()).normalized());
  axis_S_ = turn.axis();
  turn_rad_ = turn.angle();
  travel_mm_ = step_S_.norm();
}

Pose StraightMove::ToolPose(const double share) const {
  const Eigen::AngleAxisd turned(share * turn_rad_, axis_S_);
  return MakePose(turned * X_ST_from_.linear(), X_ST_from_.translation() + share * step_S_);
}

JointVector StraightMove::External(const double share) const {
  return external_.e_from + share * (external_.e_to - external_.e_from);
}

double StraightMove::TipSpeed(double) const { return tip_travels() ? 1.0 : 0.0; }

JointVector StraightMove::ExternalRates(double) const {
  JointVector step = external_.e_to - external_.e_from;
  return is_rest() ? JointVector(JointVector::Zero(step.size())) : JointVector(step / length());
}

Pose StraightMove::WorkInFootAt(const double share) const {
  if (external_.e_from.size() == 0) return X_BS_;
  return WorkInFoot(*external_.arm, X_BS_, External(share));
}

Pose StraightMove::FlangePose(const double share) const {
  return WorkInFootAt(share) * ToolPose(share) * X_TF_;
}

Twist StraightMove::TwistInFoot(const double share) const {
  Twist twist = Twist::Zero();
  if (is_rest()) return twist;
  const Pose X_AS = WorkInFootAt(share);
  if (tip_travels()) twist.head<3>() = X_AS.linear() * step_S_ / length();
  twist.tail<3>() = X_AS.linear() * axis_S_ * (turn_rad_ / length());
  if (external_.e_from.size() == 0 || external_.e_from == external_.e_to) return twist;
  // What stands on the external axes carries the tip with it.
  const Eigen::Vector3d p_ST = ToolPose(share).translation();
  const Pose before = WorkInFootAt(share - kShareStep), after = WorkInFootAt(share + kShareStep);
  const double span = 2.0 * kShareStep * length();
  twist.head<3>() += (after * p_ST - before * p_ST) / span;
  const Eigen::AngleAxisd turned(
      Eigen::Quaterniond(after.linear() * before.linear().transpose()).normalized());
  twist.tail<3>() += turned.axis() * (turned.angle() / span);
  return twist;
}

}  // namespace aircut::kinematics
