#include "kinematics/branch_follower.h"

#include <algorithm>
#include <cmath>

#include "kinematics/jacobian.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

// A move is halved at most this often: 1/1024 of it is the smallest step.
constexpr int kMostHalvings = 10;

}  // namespace

double LargestStep(const JointVector& q_from, const JointVector& q_to) {
  double largest_rad = 0.0;
  const Eigen::Index solved = std::min<Eigen::Index>(q_from.size(), 6);
  for (Eigen::Index j = 0; j < solved; ++j) {
    const double step_rad = std::abs(q_to[j] - q_from[j]);
    largest_rad = step_rad > largest_rad ? step_rad : largest_rad;
  }
  return largest_rad;
}

BranchFollower::BranchFollower(const ArmModel& arm) : arm_(arm) {
  if (HasClosedForm(arm)) {
    ik_.emplace(arm);
  } else {
    search_.emplace(arm);
  }
  turns_freely_.fill(true);
  for (const JointSpec& joint : arm.joints()) {
    if (!joint.follows) continue;
    const double ratio = joint.follows->ratio;
    const bool whole = std::abs(ratio - std::round(ratio)) < 1e-12;
    if (!whole) turns_freely_[static_cast<std::size_t>(joint.follows->joint)] = false;
  }
}

PoseSolutions BranchFollower::Solve(const Pose& X_AF, const JointVector& external) const {
  if (search_) return Search(X_AF, external);
  PoseSolutions table;
  table.external = external;
  for (const IkSolution& solution : ik_->Solve(X_AF)) {
    const auto id = static_cast<std::size_t>(solution.posture.id);
    for (std::size_t j = 0; j < 6; ++j) {
      table.q[id][j] = solution.q[static_cast<Eigen::Index>(j)];
    }
    table.wrist_sin[id] = solution.wrist_sin;
    table.found[id] = true;
  }
  return table;
}

PoseSolutions BranchFollower::Search(const Pose& X_AF, const JointVector& external) const {
  PoseSolutions table;
  table.external = external;
  table.X_AF = X_AF;
  const auto put = [&table](const SearchedSolution& solution, const std::size_t id) {
    for (std::size_t j = 0; j < 6; ++j) table.q[id][j] = solution.q[static_cast<Eigen::Index>(j)];
    table.wrist_sin[id] = 1.0;   // where a joint is open there is no solution
    table.found[id] = true;
  };
  std::vector<const SearchedSolution*> left;
  const SearchedSolutions solutions = search_->Solve(X_AF);
  for (const SearchedSolution& solution : solutions) {
    const auto id = static_cast<std::size_t>(solution.sides);
    if (table.found[id]) {
      left.push_back(&solution);
    } else {
      put(solution, id);
    }
  }
  std::stable_partition(left.begin(), left.end(), [](const SearchedSolution* one) { return one->in_range; });
  for (const SearchedSolution* solution : left) {
    const auto free = std::find(table.found.begin(), table.found.end(), false);
    if (free != table.found.end()) put(*solution, static_cast<std::size_t>(free - table.found.begin()));
  }
  return table;
}

// Only w4 dq4 + w6 dq6 counts where the two axes are one.
JointVector BranchFollower::KeepJoint4(const JointVector& q, const JointVector& q_near) const {
  const Jacobian J = JacobianFromFoot(arm_, q);
  const Eigen::Vector3d w4_B = J.col(3).tail<3>(), w6_B = J.col(5).tail<3>();
  JointVector kept = q;
  kept[3] = q_near[3];
  kept[5] -= w4_B.dot(w6_B) / w6_B.squaredNorm() * (q_near[3] - q[3]);
  return kept;
}

inline void BranchFollower::TakeNearestTurns(const JointVector& q_near, JointVector& q) const {
  for (Eigen::Index j = 0; j < 6; ++j) {
    const double away_rad = q_near[j] - q[j];
    if (std::abs(away_rad) <= kPi || !turns_freely(j)) continue;
    q[j] += 2.0 * kPi * std::round(away_rad / (2.0 * kPi));
  }
}

std::optional<JointVector> BranchFollower::Continue(const PoseSolutions& solutions, const int posture,
                                                    const JointVector& q_near) const {
  const auto id = static_cast<std::size_t>(posture);
  JointVector q(6 + solutions.external.size());
  q.tail(solutions.external.size()) = solutions.external;
  if (const std::optional<JointVector> on = search_->Continue(*solutions.X_AF, q_near)) {
    q.head(6) = *on;
    return q;
  }
  if (!solutions.found[id]) return std::nullopt;
  for (Eigen::Index j = 0; j < 6; ++j) q[j] = solutions.q[id][static_cast<std::size_t>(j)];
  TakeNearestTurns(q_near, q);
  if (LargestStep(q.head(6), q_near.head(6)) <= kTrustedStep_rad) return std::nullopt;
  return q;
}

std::optional<JointVector> BranchFollower::Near(const PoseSolutions& solutions, const int posture,
                                                const JointVector& q_near) const {
  if (search_) return Continue(solutions, posture, q_near);
  const auto id = static_cast<std::size_t>(posture);
  if (!solutions.found[id]) return std::nullopt;
  JointVector q(6 + solutions.external.size());
  for (Eigen::Index j = 0; j < 6; ++j) q[j] = solutions.q[id][static_cast<std::size_t>(j)];
  q.tail(solutions.external.size()) = solutions.external;
  if (solutions.wrist_sin[id] < kStraightWristSin) q = KeepJoint4(q, q_near);
  TakeNearestTurns(q_near, q);
  return q;
}

std::optional<JointVector> BranchFollower::FollowStretch(const StraightMove& move,
                                                         const int posture,
                                                         const JointVector& q_from,
                                                         const Stretch stretch) const {
  const std::optional<JointVector> q_to =
      Near(Solve(move.FlangePose(stretch.to), move.External(stretch.to)), posture, q_from);
  if (!q_to) return std::nullopt;
  if (LargestStep(q_from, *q_to) <= kTrustedStep_rad) return q_to;
  if (stretch.halvings_left == 0) return std::nullopt;
  const double middle = 0.5 * (stretch.from + stretch.to);
  const int left = stretch.halvings_left - 1;
  const auto q_middle = FollowStretch(move, posture, q_from, {stretch.from, middle, left});
  if (!q_middle) return std::nullopt;
  return FollowStretch(move, posture, *q_middle, {middle, stretch.to, left});
}

std::optional<JointVector> BranchFollower::Follow(const StraightMove& move, const int posture,
                                                  const JointVector& q_from,
                                                  const PoseSolutions& end) const {
  const std::optional<JointVector> q_to = Near(end, posture, q_from);
  if (!q_to || LargestStep(q_from, *q_to) <= kTrustedStep_rad) return q_to;
  return FollowStretch(move, posture, q_from, {0.0, 1.0, kMostHalvings});
}

}  // namespace aircut::kinematics
