#include "kinematics/curve_stretches.h"

#include <cmath>

#include "kinematics/external_axes.h"
#include "kinematics/motion_planner.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

constexpr double kMostTurn_rad = RadFromDeg(0.5);
constexpr double kMostStep_rad = RadFromDeg(1.0);
constexpr double kMostTravel_mm = 100.0;
// The rest is for moments that are left out at corners hardly rounded.
constexpr double kCurveShare = 0.75;
// Share of a joint's acceleration that the bend of a way may use up.
constexpr double kCurvatureShare = 0.5;
// Where no joint moves at all (a tip on the axis of nothing) any speed will do.
constexpr double kAnySpeed = 1e6;
// 1/16384 of a curve is the shortest stretch.
constexpr int kMostHalvings = 14;

class Splitter {
 public:
  explicit Splitter(const CurveTask& task)
      : task_(task) {}

  CurveStretches Split(const Station& from, const Station& to) {
    Refine(from, to, kMostHalvings);
    return std::move(result_);
  }

 private:
  void Refine(const Station& from, const Station& to, const int halvings_left) {
    if (result_.obstruction != Obstruction::kNone) return;
    if (!IsLong(from, to)) return Append(from, to);
    if (halvings_left == 0) {
      const bool moved = ChainStep(from.q, to.q) <= BranchFollower::kTrustedStep_rad;
      return moved ? Append(from, to) : Stop(Obstruction::kJump);
    }
    const std::optional<Station> middle = Middle(from, to);
    if (!middle) return Stop(Obstruction::kNoSolution);
    Refine(from, *middle, halvings_left - 1);
    Refine(*middle, to, halvings_left - 1);
  }

  bool IsLong(const Station& from, const Station& to) const {
    const double share = to.share - from.share;
    if (share * task_.curve.turn_rad() > kMostTurn_rad) return true;
    if (share * task_.curve.travel_mm() > kMostTravel_mm) return true;
    if (ChainStep(from.q, to.q) > kMostStep_rad) return true;
    if (!from.rates || !to.rates) return false;
    // A curve whose slope changes by d over a length leaves its chord by d * length / 8.
    const double length = share * task_.curve.length();
    return ChainStep(*from.rates, *to.rates) * length / 8.0 > kCurveShare * kJointChord_rad ||
           ExternalBend(*from.rates, *to.rates) * length / 8.0 > kCurveShare;
  }

  // External axes run evenly with the curve, or in millimetres: their steps ask for no split.
  double ChainStep(const JointVector& from, const JointVector& to) const {
    const auto joints = static_cast<Eigen::Index>(task_.arm.chain().size());
    return LargestStep(from.head(joints), to.head(joints));
  }

  // Largest change of their rates, over what they may leave their chord by.
  double ExternalBend(const JointVector& from, const JointVector& to) const {
    double largest = 0.0;
    for (auto j = static_cast<int>(task_.arm.chain().size()); j < task_.arm.joint_count(); ++j) {
      const double chord = IsSlide(task_.arm, j) ? kSlideChord_mm : kJointChord_rad;
      largest = std::fmax(largest, std::abs(to[j] - from[j]) / chord);
    }
    return largest;
  }

  std::optional<Station> Middle(const Station& from, const Station& to) const {
    return StationAt(task_, 0.5 * (from.share + to.share), 0.5 * (from.q + to.q));
  }

  void Append(const Station& from, const Station& to) {
    if (!from.rates || !to.rates) return Stop(Obstruction::kSingular);
    Stretch stretch;
    stretch.share_from = from.share;
    stretch.share_to = to.share;
    stretch.length = (to.share - from.share) * task_.curve.length();
    stretch.q_from = from.q;
    stretch.q_to = to.q;
    stretch.rates_from = *from.rates;
    stretch.rates_to = *to.rates;
    stretch.bounds = BoundRates(to.q - from.q, *from.rates, *to.rates, stretch.length);
    result_.stretches.push_back(stretch);
  }

  void Stop(const Obstruction obstruction) { result_.obstruction = obstruction; }

  const CurveTask& task_;
  CurveStretches result_;
};

}  // namespace

std::optional<Station> StationAt(const CurveTask& task, const double share,
                                 const JointVector& q_near) {
  const PoseSolutions solutions =
      task.follower.Solve(task.curve.FlangePose(share), task.curve.External(share));
  const std::optional<JointVector> q = task.follower.Near(solutions, task.posture, q_near);
  if (!q) return std::nullopt;
  const Eigen::Vector3d p_FT = task.curve.X_FT().translation();
  return Station{share, *q, JointRates(task.arm, *q, p_FT)
                                .Solve(task.curve.TwistInFoot(share), task.curve.ExternalRates(share))};
}

// abs(dq/ds) a + abs(d2q/ds2) v^2 <= acceleration limit, for every joint.
PieceLimits LimitsOn(const ArmModel& arm, const RateBounds& bounds, const double written_speed) {
  PieceLimits limits;
  limits.v_max = std::fmin(written_speed, kAnySpeed);
  limits.a_max = kAnySpeed;
  for (Eigen::Index j = 0; j < bounds.peak.size(); ++j) {
    const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
    limits.v_max = std::fmin(limits.v_max, joint.speed_rad_s / bounds.peak[j]);
    const double bend_mm = joint.acceleration_rad_s2 * kCurvatureShare / bounds.curvature[j];
    limits.v_max = std::fmin(limits.v_max, std::sqrt(bend_mm));
  }
  for (Eigen::Index j = 0; j < bounds.peak.size(); ++j) {
    const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
    const double bending = bounds.curvature[j] * limits.v_max * limits.v_max;
    limits.a_max = std::fmin(limits.a_max, (joint.acceleration_rad_s2 - bending) / bounds.peak[j]);
  }
  return limits;
}

CurveStretches SplitCurve(const CurveTask& task, const Station& from,
                                    const Station& to) {
  return Splitter(task).Split(from, to);
}

}  // namespace aircut::kinematics
