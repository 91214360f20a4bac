#include "sim/chain_motion.h"

#include <algorithm>
#include <cmath>

namespace aircut::sim {

using Eigen::Vector3d;
using kinematics::JointVector;
using kinematics::Pose;

ChainMoments::ChainMoments(const kinematics::ArmModel& arm, const Pose& X_WB,
                           const kinematics::MotionTrack& track, int first, int count)
    : arm_(arm), X_WB_(X_WB), track_(track), line_(arm), first_(first), count_(count) {
  poses_.reserve(static_cast<std::size_t>(count) * line_.count());
  turned_.resize(count);
  JointVector before;
  for (int i = 0; i < count; ++i) {
    const JointVector& q = track.q[first + i];
    line_.AppendPoses(q, X_WB, &poses_);
    const JointVector theta = arm.ModelAngles(q);
    turned_[i] = PerJoint{};
    for (int j = 0; j < arm.joint_count(); ++j) {
      farthest_[j] = std::max(farthest_[j], std::abs(theta[j]));
      if (i > 0) turned_[i][j] = turned_[i - 1][j] + std::abs(theta[j] - before[j]);
    }
    before = theta;
  }
}

Pose ChainMoments::BetweenX_WC(int i, double fraction, int carrier) const {
  if (fraction <= 0.0) return X_WC(i, carrier);
  if (fraction >= 1.0) return X_WC(i + 1, carrier);
  if (carrier == line_.room()) return X_WB_;
  const JointVector& q0 = track_.q[first_ + i];
  const JointVector& q1 = track_.q[first_ + i + 1];
  const JointVector q = q0 + fraction * (q1 - q0);
  std::vector<Pose> poses;
  poses.reserve(static_cast<std::size_t>(line_.count()));
  line_.AppendPoses(q, X_WB_, &poses);
  return poses[static_cast<std::size_t>(carrier)];
}

Pose ChainMoments::BodyPose(const BodyMount& mount, int i, double fraction) const {
  if (mount.on == BodyMount::On::kWorld) return mount.X_MA;
  return BetweenX_WC(i, fraction, line_.CarrierOf(mount)) * mount.X_MA;
}

Pose ChainMoments::WorkMotion(int i, double fraction) const {
  if (line_.room() == 0) return Pose::Identity();
  return BetweenX_WC(i, fraction, 0) * X_WB_.inverse();
}

PerJoint ChainMoments::Turned(int i, int k) const {
  PerJoint turned{};
  for (int j = 0; j < arm_.joint_count(); ++j) turned[j] = turned_[k][j] - turned_[i][j];
  return turned;
}

ChainReach::ChainReach(const ChainMoments& moments, const Carried& carried) : carried_(carried) {
  for (const Ball& ball : carried.shape->cover) {
    cover_L_.push_back({carried.X_LA * ball.centre, ball.radius_mm});
  }
  AddSteps(moments.line());
  Stretch(moments.farthest());
}

void ChainReach::AddSteps(const CarrierLine& line) {
  const auto& joints = line.joints();
  for (int k = carried_.inner; k < carried_.outer; ++k) {
    const CarrierJoint& j = joints[static_cast<std::size_t>(k)];
    steps_.push_back({j.joint, k + 1, j.slides, j.p_before, j.p_behind, j.axis_behind, 0.0});
  }
  for (int k = carried_.inner - 1; k >= carried_.outer; --k) {
    const CarrierJoint& j = joints[static_cast<std::size_t>(k)];
    steps_.push_back({j.joint, k, j.slides, j.p_behind, j.p_before, j.axis_before, 0.0});
  }
}

void ChainReach::Stretch(const PerJoint& farthest) {
  double stretched = 0.0;
  for (std::size_t s = steps_.size(); s-- > 0;) {
    Step& step = steps_[s];
    const bool outermost = s + 1 == steps_.size();
    // Any point will do for a slide; one from which the way outwards is short.
    if (step.slides) step.p_in = step.p_out = outermost ? cover_L_.front().centre : steps_[s + 1].p_in;
    if (outermost) {
      for (const Ball& ball : cover_L_) {
        stretched = std::max(stretched, (ball.centre - step.p_out).norm() + ball.radius_mm);
      }
    } else {
      const Step& next = steps_[s + 1];
      stretched += (next.p_in - step.p_out).norm();
      if (next.slides) stretched += farthest[next.joint];
    }
    step.stretched_mm = stretched;
  }
}

PerJoint ChainReach::FromAxes(const ChainMoments& moments, int i) const {
  PerJoint reach{};
  const Pose& X_WA = moments.X_WC(i, carried_.outer);
  std::array<Vector3d, 8> centre_W;
  const int balls = static_cast<int>(cover_L_.size());
  for (int b = 0; b < balls; ++b) centre_W[b] = X_WA * cover_L_[b].centre;
  for (std::size_t s = 0; s < steps_.size(); ++s) {
    const Step& step = steps_[s];
    if (step.slides) continue;
    const Pose& X_WL = moments.X_WC(i, step.carrier);
    const Vector3d point = X_WL * step.p_out, axis = X_WL.linear() * step.axis_out;
    for (int b = 0; b < balls; ++b) {
      const double far = axis.cross(centre_W[b] - point).norm() + cover_L_[b].radius_mm;
      reach[s] = std::max(reach[s], far);
    }
    reach[s] = std::min(reach[s], step.stretched_mm);
  }
  return reach;
}

double ChainReach::PathBound_mm(const PerJoint& from_axes, const PerJoint& turned) const {
  double path = 0.0;
  for (std::size_t s = steps_.size(); s-- > 0;) {
    const Step& step = steps_[s];
    const double reach = step.slides ? 1.0 : std::min(from_axes[s] + path, step.stretched_mm);
    path += turned[step.joint] * reach;
  }
  return path;
}

double ChainReach::BowBound_mm(const PerJoint& turned) const {
  double sum = 0.0, inner = 0.0;  // inner: turns only
  for (const Step& step : steps_) {
    const double change = turned[step.joint];
    if (step.slides) {
      sum += 2.0 * change * inner;
      continue;
    }
    sum += step.stretched_mm * change * (change + 2.0 * inner);
    inner += change;
  }
  return 0.125 * sum;
}

}  // namespace aircut::sim
