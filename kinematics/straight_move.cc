#include "kinematics/straight_move.h"

namespace aircut::kinematics {

StraightMove::StraightMove(const Pose& X_BS, const Pose& X_FT, const Pose& X_ST_from,
                           const Pose& X_ST_to)
    : X_BS_(X_BS), X_FT_(X_FT), X_TF_(X_FT.inverse()), X_ST_from_(X_ST_from),
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

Pose StraightMove::FlangePose(const double share) const {
  return X_BS_ * ToolPose(share) * X_TF_;
}

Twist StraightMove::TwistInBase() const {
  Twist twist = Twist::Zero();
  if (is_rest()) return twist;
  if (tip_travels()) twist.head<3>() = X_BS_.linear() * step_S_ / length();
  twist.tail<3>() = X_BS_.linear() * axis_S_ * (turn_rad_ / length());
  return twist;
}

}  // namespace aircut::kinematics
