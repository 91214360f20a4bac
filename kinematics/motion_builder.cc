#include "kinematics/motion_builder.h"

#include <cmath>
#include <limits>
#include <utility>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// Rounding of a demand relative to itself.
constexpr double kDemandRounding = 1e-9;
// Chords of a rounded corner leave it by at most this.
constexpr double kSag_mm = 0.001;
// A moment may be left out where the joints pass it this near.
constexpr double kLeaveOut_rad = 0.25 * kJointChord_rad;
// Corners are noted from this deviation on.
constexpr double kNoted_mm = 1e-6;

// A body shorter than this share of its move is none.
constexpr double kNoShare = 1e-9;

// Distance of q from the straight run between two places.
double AwayFromChord(const JointVector& q, const JointVector& q_from, const JointVector& q_to) {
  const JointVector chord = q_to - q_from, spoke = q - q_from;
  const double length2 = chord.squaredNorm();
  const double along = length2 > 0.0 ? std::fmin(std::fmax(spoke.dot(chord) / length2, 0.0), 1.0) : 0.0;
  return (spoke - along * chord).lpNorm<Eigen::Infinity>();
}

Station EndOf(const CurveStretches& plan) {
  const Stretch& last = plan.stretches.back();
  return {1.0, last.q_to, last.rates_to};
}

}  // namespace

MotionBuilder::MotionBuilder(const PlanRequest& request, const BranchFollower& follower)
    : request_(request), follower_(follower), X_SB_(request.X_BS.inverse()),
      X_FT_(Pose::Identity()), p_FT_(Eigen::Vector3d::Zero()),
      law_(*request.arm, request.controller, request.slow_mm_s, &p_FT_) {}

CurveTask MotionBuilder::TaskOf(const ToolCurve& curve, const int posture) const {
  return {*request_.arm, follower_, curve, posture};
}

void MotionBuilder::Start(const JointVector& q, const Pose& X_FT) {
  X_FT_ = X_FT;
  p_FT_ = X_FT.translation();
  q_ = q;
  AddMoment(q, MoveTag{}, Place{});
}

MotionBuilder::Place MotionBuilder::PlaceHere(const double tip_per_unit) const {
  return {law_.node(), waited_s_, tip_per_unit};
}

void MotionBuilder::PutMoment(const OfferedMoment& moment) {
  const ArmModel& arm = *request_.arm;
  const Pose X_BF = FlangePose(arm, moment.q);
  const Pose X_SB = arm.externals().empty()
                        ? X_SB_
                        : (TableMotion(arm, ExternalPart(arm, moment.q)) * request_.X_BS).inverse();
  track_.q.push_back(moment.q);
  track_.X_BF.push_back(X_BF);
  track_.X_ST.push_back(X_SB * X_BF * X_FT_);
  track_.line.push_back(moment.tag.line);
  track_.phase.push_back(moment.tag.phase);
  track_.path_index.push_back(moment.tag.path_index);
  places_.push_back(moment.place);
}

void MotionBuilder::AddMoment(const JointVector& q, const MoveTag& tag, const Place& place) {
  bool needed = false;
  for (const OfferedMoment& offered : offered_) {
    needed = needed || AwayFromChord(offered.q, track_.q.back(), q) > kLeaveOut_rad;
  }
  if (needed) {
    for (const OfferedMoment& offered : offered_) PutMoment(offered);
  }
  offered_.clear();
  PutMoment({q, tag, place});
}

void MotionBuilder::OfferMoment(const JointVector& q, const MoveTag& tag, const Place& place) {
  offered_.push_back({q, tag, place});
}

void MotionBuilder::AddJointMove(const JointVector& q_to, const MoveTag& tag) {
  Close();
  const JointMove move{q_, q_to};
  const PieceLimits limits = LimitsOf(*request_.arm, move);
  if (limits.length > 0.0) {
    law_.Stand();
    const JointVector step = q_to - q_;
    const double brake = std::fmin(0.5, limits.v_max * limits.v_max / (2.0 * limits.a_max));
    double from = 0.0, tip_from = JointRates(*request_.arm, q_, p_FT_).TipSpeed(step);
    for (const double share : SampleJointMove(*request_.arm, move, p_FT_, request_.sag_mm)) {
      const JointVector q = share < 1.0 ? move.At(share) : q_to;
      const double tip = JointRates(*request_.arm, q, p_FT_).TipSpeed(step);
      LawPiece piece{move.At(from), q, step, step, share - from, kInfinity, 0.0, tip_from, tip};
      // Where the arm begins and ends to cruise.
      piece.brake_from = brake > from && brake < share ? brake - from : 0.0;
      piece.brake_to = 1.0 - brake > from && 1.0 - brake < share ? share - (1.0 - brake) : 0.0;
      piece.least_parts = 2;
      law_.AddPiece(piece);
      AddMoment(q, tag, PlaceHere(tip));
      from = share;
      tip_from = tip;
    }
    law_.Stand();
    law_.EndMove();
  } else {
    AddMoment(q_to, tag, PlaceHere(0.0));
  }
  q_ = q_to;
  stop_here_ = true;
  rates_here_.reset();
}

void MotionBuilder::RetagLast(const MoveTag& tag) {
  track_.line.back() = tag.line;
  track_.phase.back() = tag.phase;
  track_.path_index.back() = tag.path_index;
}

void MotionBuilder::ChangeTool(const Pose& X_FT, const MoveTag& tag) {
  Close();
  X_FT_ = X_FT;
  p_FT_ = X_FT.translation();
  stop_here_ = true;
  rates_here_.reset();
  AddMoment(JointVector(q_), tag, PlaceHere(0.0));
}

void MotionBuilder::Dwell(const double dwell_s, const MoveTag& tag) {
  Close();
  stop_here_ = true;
  waited_s_ += dwell_s;
  AddMoment(JointVector(q_), tag, PlaceHere(0.0));
}

void MotionBuilder::SkipTo(const JointVector& q, const MoveTag& tag) {
  Close();
  stop_here_ = true;
  rates_here_.reset();
  q_ = q;
  AddMoment(q, tag, PlaceHere(0.0));
}

const JointRates& MotionBuilder::RatesHere() {
  if (!rates_here_) rates_here_.emplace(*request_.arm, q_, p_FT_);
  return *rates_here_;
}

StraightOutcome MotionBuilder::AddStraightMove(const StraightMove& move,
                                               const StraightTarget& target, const MoveTag& tag) {
  StraightOutcome outcome;
  if (move.is_rest()) {
    if (open_) open_->repeats.push_back(tag);
    else Repeat({tag});
    return outcome;
  }
  JointRates rates_there(*request_.arm, target.q, p_FT_);
  const Station from{0.0, q_, RatesHere().Solve(move.TwistInFoot(0.0), move.ExternalRates(0.0))};
  const Station to{1.0, target.q, rates_there.Solve(move.TwistInFoot(1.0), move.ExternalRates(1.0))};
  Open next{move, target, tag, SplitCurve(TaskOf(move, target.posture), from, to), from, -1, {}};
  outcome.obstruction = next.own.obstruction;
  outcome.demand = Demand(next.own, target, tag);
  std::optional<Rounding> rounding;
  if (outcome.obstruction == Obstruction::kNone) {
    if (const auto blend = BlendInto(move, tag)) {
      rounding = PlanRounding(*blend, next);
      outcome.obstruction = rounding->obstruction;
    }
  }
  if (outcome.obstruction != Obstruction::kNone) {
    SkipTo(target.q, tag);
    return outcome;
  }
  next.line_feed = LineFeedOf(target, tag);
  if (rounding) LayRounding(*std::move(rounding), next);
  else CloseAt(next);
  open_ = std::move(next);
  q_ = target.q;
  stop_here_ = false;
  rates_here_ = std::move(rates_there);
  return outcome;
}

// One more moment where the last one is, for each line that moves nothing.
void MotionBuilder::Repeat(const std::vector<MoveTag>& tags) {
  const JointVector q = track_.q.back();
  const Place place = places_.back();
  for (const MoveTag& tag : tags) AddMoment(q, tag, place);
}

// The corner between the open move and `next`, where the control rounds it.
std::optional<CornerBlend> MotionBuilder::BlendInto(const StraightMove& next,
                                                    const MoveTag& tag) const {
  const ControllerRules& rules = request_.controller;
  if (!open_ || stop_here_ || rules.corner != CornerRule::kBlend || rules.look_ahead_moves == 1 ||
      tag.phase != open_->tag.phase) {
    return std::nullopt;
  }
  const double half = 0.5 * std::fmin(open_->move.travel_mm(), next.travel_mm());
  return CornerBlend::Between(open_->move, next, std::fmin(rules.corner_distance_mm.value_or(0.0), half));
}

// All parts of the way from the open move round the corner to the end of `next`.
MotionBuilder::Rounding MotionBuilder::PlanRounding(const CornerBlend& blend,
                                                    const Open& next) const {
  Rounding rounding{blend, {}, {}, {}, {}, {}, {}, Obstruction::kNone};
  const auto stop = [&rounding](const Obstruction why) {
    rounding.obstruction = why;
    return rounding;
  };
  const CurveTask before = TaskOf(open_->move, open_->target.posture);
  const CurveTask round = TaskOf(blend, next.target.posture);
  const CurveTask after = TaskOf(next.move, next.target.posture);
  const auto leave = StationAt(before, 1.0 - blend.reach_mm() / open_->move.travel_mm(), q_);
  const auto middle = StationAt(round, 0.5, q_);
  const auto join = StationAt(after, blend.reach_mm() / next.move.travel_mm(), q_);
  if (!leave || !middle || !join) return stop(Obstruction::kNoSolution);
  rounding.middle = *middle;
  rounding.join = *join;
  if (leave->share - open_->begin.share > kNoShare) rounding.body = SplitCurve(before, open_->begin, *leave);
  rounding.first = PartOfBlend(blend, next.target.posture, {0.0, leave->q, leave->rates}, *middle);
  rounding.second = PartOfBlend(blend, next.target.posture, *middle, {1.0, join->q, join->rates});
  rounding.rest = SplitCurve(after, *join, EndOf(next.own));
  for (const CurveStretches* part :
       {&rounding.body, &rounding.first, &rounding.second, &rounding.rest}) {
    if (part->obstruction != Obstruction::kNone) return stop(part->obstruction);
  }
  return rounding;
}

// First half up to the line's own moment, second half on to the next line.
void MotionBuilder::LayRounding(Rounding rounding, Open& next) {
  const CornerBlend& blend = rounding.blend;
  const Moments moments = blend.deviation_mm() <= kSag_mm ? Moments::kOffered : Moments::kAll;
  LayStretches(rounding.body, open_->move, *open_, moments);
  LayStretches(rounding.first, blend, *open_, moments);
  if (moments == Moments::kOffered) {
    offered_.pop_back();   // the line's own moment is no offer
    AddMoment(rounding.middle.q, open_->tag, PlaceHere(blend.TipSpeed(0.5)));
  }
  law_.EndMove();
  Repeat(open_->repeats);
  LayStretches(rounding.second, blend, next, moments);
  if (blend.deviation_mm() > kNoted_mm) {
    corners_.push_back({open_->tag.line, open_->tag.path_index, blend.corner_rad(), blend.reach_mm(),
                        blend.deviation_mm(), blend.tilt_rad()});
  }
  next.own = std::move(rounding.rest);
  next.begin = rounding.join;
}

// Split so that chords stay near the arc.
CurveStretches MotionBuilder::PartOfBlend(const CornerBlend& blend, const int posture,
                                          const Station& from, const Station& to) const {
  const CurveTask task = TaskOf(blend, posture);
  const double radius = blend.radius_mm();
  const double step_rad = radius > kSag_mm ? 2.0 * std::acos(1.0 - kSag_mm / radius) : kPi;
  // The tip runs fastest over the share at both ends of the blend.
  const double half_rad = 0.5 * blend.corner_rad() * blend.length() / blend.travel_mm();
  const int parts = std::max(1, static_cast<int>(std::ceil(half_rad / step_rad)));
  CurveStretches all;
  Station last = from;
  for (int i = 1; i <= parts && all.obstruction == Obstruction::kNone; ++i) {
    const double share = from.share + (to.share - from.share) * i / parts;
    const std::optional<Station> here =
        i == parts ? std::optional<Station>(to) : StationAt(task, share, last.q);
    if (!here) {
      all.obstruction = Obstruction::kNoSolution;
      return all;
    }
    const CurveStretches some = SplitCurve(task, last, *here);
    all.stretches.insert(all.stretches.end(), some.stretches.begin(), some.stretches.end());
    all.obstruction = some.obstruction;
    last = *here;
  }
  return all;
}

// The open move ends as written; what follows begins with a corner.
void MotionBuilder::CloseAt(const Open& next) {
  const bool meets = open_.has_value();
  const bool same = meets && open_->move.tip_travels() == next.move.tip_travels();
  JointVector rates_before;
  if (meets) rates_before = open_->own.stretches.back().rates_to;
  Close();
  if (stop_here_ || !same) return law_.Stand();
  const double speed = CornerSpeed(rates_before, next.own.stretches.front().rates_from);
  if (request_.controller.corner == CornerRule::kExactStop) return law_.StandByRule(speed);
  law_.PassAt(speed, {HeldBy::kCorner, -1});
}

void MotionBuilder::Close() {
  if (!open_) return;
  LayStretches(open_->own, open_->move, *open_, Moments::kAll);
  law_.EndMove();
  Repeat(open_->repeats);
  open_.reset();
}

void MotionBuilder::LayStretches(const CurveStretches& plan, const ToolCurve& curve,
                                 const Open& owner, const Moments moments) {
  for (const Stretch& stretch : plan.stretches) {
    LawPiece piece;
    piece.q_from = stretch.q_from;
    piece.q_to = stretch.q_to;
    piece.rates_from = stretch.rates_from;
    piece.rates_to = stretch.rates_to;
    piece.length = stretch.length;
    piece.written_speed = owner.target.written_speed.value_or(kInfinity);
    piece.move_length = owner.move.length();
    piece.tip_from = curve.TipSpeed(stretch.share_from);
    piece.tip_to = curve.TipSpeed(stretch.share_to);
    piece.curvature_per_mm = curve.Curvature();
    piece.line_feed = owner.line_feed;
    // Between two stops there must be a node.
    piece.least_parts = plan.stretches.size() == 1 && curve.Curvature() == 0.0 ? 2 : 1;
    const PieceLimits limits = LimitsOn(*request_.arm, stretch.bounds, piece.written_speed);
    piece.brake_from = piece.brake_to = limits.v_max * limits.v_max / (2.0 * limits.a_max);
    law_.AddPiece(piece);
    const Place place = PlaceHere(piece.tip_to);
    if (moments == Moments::kAll) AddMoment(stretch.q_to, owner.tag, place);
    else OfferMoment(stretch.q_to, owner.tag, place);
  }
}

double MotionBuilder::CornerSpeed(const JointVector& rates_before,
                                  const JointVector& rates_after) const {
  double speed = kInfinity;
  for (Eigen::Index j = 0; j < rates_after.size(); ++j) {
    const double step = std::abs(rates_after[j] - rates_before[j]);
    const double allowed_rad_s =
        request_.arm->joints()[static_cast<std::size_t>(j)].acceleration_rad_s2 *
        request_.controller.cycle_s;
    if (step > 0.0) speed = std::fmin(speed, allowed_rad_s / step);
  }
  return speed;
}

int MotionBuilder::LineFeedOf(const StraightTarget& target, const MoveTag& tag) {
  if (tag.phase != Phase::kCut) return -1;
  LineFeed feed;
  feed.line = tag.line;
  feed.path_index = tag.path_index;
  feed.written_mm_s = target.written_speed.value_or(kInfinity);
  line_feeds_.push_back(feed);
  return static_cast<int>(line_feeds_.size()) - 1;
}

std::optional<JointSpeedDemand> MotionBuilder::Demand(const CurveStretches& plan,
                                                      const StraightTarget& target,
                                                      const MoveTag& tag) const {
  if (tag.phase != Phase::kCut || !target.written_speed) return std::nullopt;
  JointSpeedDemand demand;
  demand.line = tag.line;
  demand.path_index = tag.path_index;
  if (plan.obstruction == Obstruction::kSingular) {
    demand.ratio = demand.acceleration_ratio = kInfinity;
    return demand;
  }
  if (plan.obstruction != Obstruction::kNone) return std::nullopt;
  const double v = *target.written_speed;
  double largest = 0.0;
  for (const Stretch& stretch : plan.stretches) {
    for (Eigen::Index j = 0; j < stretch.q_to.size(); ++j) {
      const JointSpec& joint = request_.arm->joints()[static_cast<std::size_t>(j)];
      const double per_rate = v / joint.speed_rad_s;
      const double ratio = stretch.bounds.peak[j] * per_rate;
      const double bending = stretch.bounds.curvature[j] * v * v / joint.acceleration_rad_s2;
      largest = std::fmax(largest, ratio + stretch.bounds.error[j] * per_rate);
      if (bending > demand.acceleration_ratio) {
        demand.acceleration_ratio = bending;
        demand.acceleration_joint = static_cast<int>(j);
      }
      if (ratio <= demand.ratio) continue;
      demand.ratio = ratio;
      demand.joint = static_cast<int>(j);
    }
  }
  demand.ratio_bound = (largest - demand.ratio) + kDemandRounding * demand.ratio;
  return demand;
}

const MotionTrack& MotionBuilder::moments() {
  Close();
  return track_;
}

// What held the longest part of the interval that ends at a moment.
Hold MotionBuilder::HoldBetween(const LawAssembly::Result& law, const std::size_t moment) const {
  Hold hold{HeldBy::kStop, -1};
  if (moment == 0) return hold;
  double longest_s = 0.0;
  for (std::uint32_t i = places_[moment - 1].node; i < places_[moment].node; ++i) {
    const double dt = law.time_s[i + 1] - law.time_s[i];
    if (dt <= longest_s) continue;
    longest_s = dt;
    hold = law.held_by[i];
  }
  return hold;
}

TimedMotion MotionBuilder::Finish() {
  Close();
  const LawAssembly::Result law = law_.Solve();
  const auto at = [&law](const std::vector<double>& values, std::uint32_t node) {
    return values.empty() ? 0.0 : values[node];
  };
  for (std::size_t m = 0; m < places_.size(); ++m) {
    const Place& place = places_[m];
    track_.time_s.push_back(at(law.time_s, place.node) + place.waited_s);
    track_.feed_mm_s.push_back(at(law.speed, place.node) * place.tip_per_unit);
    track_.held_by.push_back(HoldBetween(law, m));
  }
  TimedMotion timed;
  timed.cut_below_feed_s = law_.MeasureFeeds(law, line_feeds_);
  timed.times.modelled_s = track_.time_s.back();
  // Where two of them are the same law they differ by the rounding of their sums.
  timed.times.ideal_s = std::fmin(law.ideal_s + waited_s_, timed.times.modelled_s);
  timed.times.stop_each_s = std::fmax(law.stop_each_s + waited_s_, timed.times.modelled_s);
  timed.track = std::move(track_);
  timed.corners = std::move(corners_);
  for (const LineFeed& feed : line_feeds_) {
    if (feed.length_mm > 0.0) timed.line_feeds.push_back(feed);
  }
  return timed;
}

}  // namespace aircut::kinematics
