#include "kinematics/motion_builder.h"

#include <cmath>
#include <limits>
#include <utility>

#include "kinematics/forward_kinematics.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// Share of a joint's acceleration that the curvature of a path may use up.
constexpr double kCurvatureShare = 0.5;
// A cut counts as slow below this share of its written feed.
constexpr double kSlowShare = 0.9;
// Rounding of a demand relative to itself.
constexpr double kDemandRounding = 1e-9;
// Where no joint moves at all (a tip on the axis of nothing) any speed will do.
constexpr double kAnySpeed = 1e6;

}  // namespace

MotionBuilder::MotionBuilder(const PlanRequest& request, const BranchFollower& follower)
    : request_(request), follower_(follower), X_SB_(request.X_BS.inverse()),
      X_FT_(Pose::Identity()) {}

void MotionBuilder::Start(const JointVector& q, const Pose& X_FT) {
  X_FT_ = X_FT;
  AddMoment(q, MoveTag{}, Place{});
}

MotionBuilder::Place MotionBuilder::Standing() const {
  return {static_cast<int>(pieces_.size()) - 1, 1.0, 0.0,
          pieces_.empty() ? first_wait_s_ : pieces_.back().wait_s};
}

void MotionBuilder::AddMoment(const JointVector& q, const MoveTag& tag, const Place& place) {
  const Pose X_BF = FlangePose(*request_.arm, q);
  track_.q.push_back(q);
  track_.X_BF.push_back(X_BF);
  track_.X_ST.push_back(X_SB_ * X_BF * X_FT_);
  track_.line.push_back(tag.line);
  track_.phase.push_back(tag.phase);
  track_.path_index.push_back(tag.path_index);
  places_.push_back(place);
  q_ = q;
}

void MotionBuilder::AddJointMove(const JointVector& q_to, const MoveTag& tag) {
  const JointMove move{q_, q_to};
  Piece piece;
  piece.limits = LimitsOf(*request_.arm, move);
  if (piece.limits.length > 0.0) {
    if (!pieces_.empty()) pieces_.back().limits.v_end_max = 0.0;
    pieces_.push_back(piece);
    const JointVector step = q_to - q_;
    const Eigen::Vector3d p_FT = X_FT_.translation();
    const int index = static_cast<int>(pieces_.size()) - 1;
    for (const double share : SampleJointMove(*request_.arm, move, p_FT, request_.sag_mm)) {
      const JointVector q = share < 1.0 ? move.At(share) : q_to;
      AddMoment(q, tag, {index, share, JointRates(*request_.arm, q, p_FT).TipSpeed(step), 0.0});
    }
  } else {
    AddMoment(q_to, tag, Standing());
  }
  stop_here_ = true;
  rates_here_.reset();
}

void MotionBuilder::RetagLast(const MoveTag& tag) {
  track_.line.back() = tag.line;
  track_.phase.back() = tag.phase;
  track_.path_index.back() = tag.path_index;
}

void MotionBuilder::ChangeTool(const Pose& X_FT, const MoveTag& tag) {
  X_FT_ = X_FT;
  stop_here_ = true;
  rates_here_.reset();
  AddMoment(JointVector(q_), tag, Standing());
}

void MotionBuilder::Dwell(const double dwell_s, const MoveTag& tag) {
  stop_here_ = true;
  (pieces_.empty() ? first_wait_s_ : pieces_.back().wait_s) += dwell_s;
  AddMoment(JointVector(q_), tag, Standing());
}

void MotionBuilder::SkipTo(const JointVector& q, const MoveTag& tag) {
  stop_here_ = true;
  rates_here_.reset();
  AddMoment(q, tag, Standing());
}

const JointRates& MotionBuilder::RatesHere() {
  if (!rates_here_) rates_here_.emplace(*request_.arm, q_, X_FT_.translation());
  return *rates_here_;
}

StraightOutcome MotionBuilder::AddStraightMove(const StraightMove& move,
                                               const StraightTarget& target, const MoveTag& tag) {
  StraightOutcome outcome;
  if (move.is_rest()) {
    const Place here = places_.back();
    AddMoment(target.q, tag, here);
    rates_here_.reset();
    return outcome;
  }
  const JointVector external_rates = move.ExternalRates();
  JointRates rates_there(*request_.arm, target.q, X_FT_.translation());
  const Station from{0.0, q_, RatesHere().Solve(move.TwistInFoot(0.0), external_rates)};
  const Station to{1.0, target.q, rates_there.Solve(move.TwistInFoot(1.0), external_rates)};
  const StraightTask task{*request_.arm, follower_, move, target.posture};
  const StraightStretches plan = SplitStraightMove(task, from, to);
  outcome.obstruction = plan.obstruction;
  outcome.demand = Demand(plan, target, tag);
  if (plan.obstruction != Obstruction::kNone) {
    SkipTo(target.q, tag);
    return outcome;
  }
  const Parameter parameter = move.tip_travels() ? Parameter::kTravel : Parameter::kTurn;
  if (!pieces_.empty()) {
    pieces_.back().limits.v_end_max = CornerSpeed(parameter, plan.stretches.front().rates_from);
  }
  for (const Stretch& stretch : plan.stretches) AddStretch(stretch, move, target, tag);
  stop_here_ = request_.controller.corner == CornerRule::kExactStop;
  rates_here_ = std::move(rates_there);
  return outcome;
}

void MotionBuilder::AddStretch(const Stretch& stretch, const StraightMove& move,
                               const StraightTarget& target, const MoveTag& tag) {
  const bool travels = move.tip_travels();
  Piece piece;
  piece.parameter = travels ? Parameter::kTravel : Parameter::kTurn;
  piece.limits = LimitsOnStretch(stretch.bounds, target.written_speed.value_or(kAnySpeed));
  piece.limits.length = stretch.length;
  piece.limits.v_end_max = kInfinity;
  piece.rates_end = stretch.rates_to;
  if (tag.phase == Phase::kCut) piece.cut_speed = target.written_speed.value_or(kInfinity);
  pieces_.push_back(piece);
  AddMoment(stretch.q_to, tag,
            {static_cast<int>(pieces_.size()) - 1, 1.0, travels ? 1.0 : 0.0, 0.0});
}

// abs(dq/ds) a + abs(d2q/ds2) v^2 <= acceleration limit, for every joint.
PieceLimits MotionBuilder::LimitsOnStretch(const RateBounds& bounds, const double feed_cap) const {
  PieceLimits limits;
  limits.v_max = feed_cap;
  limits.a_max = kAnySpeed;
  for (Eigen::Index j = 0; j < bounds.peak.size(); ++j) {
    const JointSpec& joint = request_.arm->joints()[static_cast<std::size_t>(j)];
    limits.v_max = std::fmin(limits.v_max, joint.speed_rad_s / bounds.peak[j]);
    const double bend_mm = joint.acceleration_rad_s2 * kCurvatureShare / bounds.curvature[j];
    limits.v_max = std::fmin(limits.v_max, std::sqrt(bend_mm));
  }
  for (Eigen::Index j = 0; j < bounds.peak.size(); ++j) {
    const JointSpec& joint = request_.arm->joints()[static_cast<std::size_t>(j)];
    const double bending = bounds.curvature[j] * limits.v_max * limits.v_max;
    limits.a_max =
        std::fmin(limits.a_max, (joint.acceleration_rad_s2 - bending) / bounds.peak[j]);
  }
  return limits;
}

double MotionBuilder::CornerSpeed(const Parameter parameter,
                                  const JointVector& rates_start) const {
  const Piece& before = pieces_.back();
  if (stop_here_ || before.parameter != parameter) return 0.0;
  double speed = kInfinity;
  for (Eigen::Index j = 0; j < rates_start.size(); ++j) {
    const double step = std::abs(rates_start[j] - before.rates_end[j]);
    const double allowed_rad_s =
        request_.arm->joints()[static_cast<std::size_t>(j)].acceleration_rad_s2 *
        request_.controller.cycle_s;
    if (step > 0.0) speed = std::fmin(speed, allowed_rad_s / step);
  }
  return speed;
}

std::optional<JointSpeedDemand> MotionBuilder::Demand(const StraightStretches& plan,
                                                      const StraightTarget& target,
                                                      const MoveTag& tag) const {
  if (tag.phase != Phase::kCut || !target.written_speed) return std::nullopt;
  JointSpeedDemand demand{tag.line, tag.path_index, 0, 0.0, 0.0};
  if (plan.obstruction == Obstruction::kSingular) {
    demand.ratio = kInfinity;
    return demand;
  }
  if (plan.obstruction != Obstruction::kNone) return std::nullopt;
  double largest = 0.0;
  for (const Stretch& stretch : plan.stretches) {
    for (Eigen::Index j = 0; j < stretch.q_to.size(); ++j) {
      const double per_rate =
          *target.written_speed / request_.arm->joints()[static_cast<std::size_t>(j)].speed_rad_s;
      const double ratio = stretch.bounds.peak[j] * per_rate;
      largest = std::fmax(largest, ratio + stretch.bounds.error[j] * per_rate);
      if (ratio <= demand.ratio) continue;
      demand.ratio = ratio;
      demand.joint = static_cast<int>(j);
    }
  }
  demand.ratio_bound = (largest - demand.ratio) + kDemandRounding * demand.ratio;
  return demand;
}

double MotionBuilder::CutTimeBelowFeed(const std::vector<Trapezoid>& profiles) const {
  double time_s = 0.0;
  for (std::size_t i = 0; i < profiles.size(); ++i) {
    if (pieces_[i].cut_speed) time_s += profiles[i].TimeBelow(kSlowShare * *pieces_[i].cut_speed);
  }
  return time_s;
}

TimedMotion MotionBuilder::Finish() {
  std::vector<PieceLimits> limits;
  limits.reserve(pieces_.size());
  for (const Piece& piece : pieces_) limits.push_back(piece.limits);
  const std::vector<Trapezoid> profiles = ScaleTime(limits);
  std::vector<double> start_s, end_s;
  start_s.reserve(profiles.size());
  end_s.reserve(profiles.size());
  double clock_s = first_wait_s_;
  for (std::size_t i = 0; i < profiles.size(); ++i) {
    start_s.push_back(clock_s);
    end_s.push_back(clock_s + profiles[i].duration());
    clock_s = end_s.back() + pieces_[i].wait_s;
  }
  track_.time_s.reserve(places_.size());
  track_.feed_mm_s.reserve(places_.size());
  for (const Place& place : places_) {
    if (place.piece < 0) {
      track_.time_s.push_back(place.waited_s);
      track_.feed_mm_s.push_back(0.0);
      continue;
    }
    const auto piece = static_cast<std::size_t>(place.piece);
    const Trapezoid& profile = profiles[piece];
    const bool at_end = place.share >= 1.0;
    const double t = at_end ? profile.duration() : profile.TimeAt(place.share);
    track_.time_s.push_back(at_end ? end_s[piece] + place.waited_s : start_s[piece] + t);
    track_.feed_mm_s.push_back(profile.Speed(t) * place.tip_per_unit);
  }
  return {std::move(track_), CutTimeBelowFeed(profiles)};
}

}  // namespace aircut::kinematics
