#include "sim/chain_motion.h"

#include <algorithm>
#include <cmath>

#include "kinematics/forward_kinematics.h"

namespace aircut::sim {

using Eigen::Vector3d;
using kinematics::JointVector;
using kinematics::Pose;

ChainMoments::ChainMoments(const kinematics::ArmModel& arm, const Pose& X_WB,
                           const kinematics::MotionTrack& track, int first, int count)
    : arm_(arm), X_WB_(X_WB), track_(track), first_(first), count_(count),
      joints_(arm.joint_count()) {
  poses_.reserve(static_cast<std::size_t>(count) * (joints_ + 1));
  turned_.resize(count);
  JointVector before;
  for (int i = 0; i < count; ++i) {
    const JointVector& q = track.q[first + i];
    poses_.push_back(X_WB);
    for (const Pose& X_BL : kinematics::LinkPoses(arm, q)) poses_.push_back(X_WB * X_BL);
    const JointVector theta = arm.ModelAngles(q);
    turned_[i] = PerJoint{};
    for (int j = 0; i > 0 && j < joints_; ++j) {
      turned_[i][j] = turned_[i - 1][j] + std::abs(theta[j] - before[j]);
    }
    before = theta;
  }
}

Pose ChainMoments::BetweenX_WL(int i, double fraction, int link) const {
  if (fraction <= 0.0) return X_WL(i, link);
  if (fraction >= 1.0) return X_WL(i + 1, link);
  if (link == 0) return X_WB_;
  const JointVector& q0 = track_.q[first_ + i];
  const JointVector& q1 = track_.q[first_ + i + 1];
  const JointVector q = q0 + fraction * (q1 - q0);
  return X_WB_ * kinematics::LinkPoses(arm_, q)[link - 1];
}

PerJoint ChainMoments::Turned(int i, int k) const {
  PerJoint turned{};
  for (int j = 0; j < joints_; ++j) turned[j] = turned_[k][j] - turned_[i][j];
  return turned;
}

ChainReach::ChainReach(const kinematics::ArmModel& arm, const Carried& carried)
    : carried_(carried) {
  for (const Ball& ball : carried.shape->cover) {
    cover_L_.push_back({carried.X_LA * ball.centre, ball.radius_mm});
  }
  const auto& chain = arm.chain();
  for (const kinematics::ChainJoint& joint : chain) {
    const Pose back = joint.after.inverse();
    point_L_.push_back(back.translation());
    axis_L_.push_back((back.linear() * joint.axis).normalized());
  }
  double stretched = 0.0;
  for (int j = carried.outer - 1; j >= carried.inner; --j) {
    if (j == carried.outer - 1) {
      for (const Ball& ball : cover_L_) {
        stretched = std::max(stretched, (ball.centre - point_L_[j]).norm() + ball.radius_mm);
      }
    } else {
      stretched += (chain[j + 1].before.translation() - point_L_[j]).norm();
    }
    stretched_[j] = stretched;
  }
}

PerJoint ChainReach::FromAxes(const ChainMoments& moments, int i) const {
  PerJoint reach{};
  const Pose& X_WA = moments.X_WL(i, carried_.outer);
  std::array<Vector3d, 8> centre_W;
  const int balls = static_cast<int>(cover_L_.size());
  for (int b = 0; b < balls; ++b) centre_W[b] = X_WA * cover_L_[b].centre;
  for (int j = carried_.inner; j < carried_.outer; ++j) {
    const Pose& X_WL = moments.X_WL(i, j + 1);
    const Vector3d point = X_WL * point_L_[j], axis = X_WL.linear() * axis_L_[j];
    for (int b = 0; b < balls; ++b) {
      const double far = axis.cross(centre_W[b] - point).norm() + cover_L_[b].radius_mm;
      reach[j] = std::max(reach[j], far);
    }
    reach[j] = std::min(reach[j], stretched_[j]);
  }
  return reach;
}

double ChainReach::PathBound_mm(const PerJoint& from_axes, const PerJoint& turned) const {
  double path = 0.0;
  for (int j = carried_.outer - 1; j >= carried_.inner; --j) {
    const double reach = std::min(from_axes[j] + path, stretched_[j]);
    path += turned[j] * reach;
  }
  return path;
}

double ChainReach::BowBound_mm(const PerJoint& turned) const {
  double sum = 0.0, inner = 0.0;
  for (int j = carried_.inner; j < carried_.outer; ++j) {
    sum += stretched_[j] * turned[j] * (turned[j] + 2.0 * inner);
    inner += turned[j];
  }
  return 0.125 * sum;
}

}  // namespace aircut::sim
