#include "sim/pair_search.h"

#include <algorithm>
#include <cmath>

#include "sim/prepared_shape.h"
#include "sim/remaining_piece.h"
#include "sim/shape_extent.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// A query stops once the distance lets this many steps be skipped.
constexpr double kWorthSkipping_steps = 24.0;
// Fewer steps than this are not worth a jump: the plane goes through them as fast.
constexpr int kWorthJumping_steps = 8;
// Halvings between two moments; the rest goes into the bound.
constexpr int kMostHalvings = 12;
// Halvings that tell when in a step a contact begins or ends.
constexpr int kContactHalvings = 5;
// While two bodies overlap the depth is estimated so many times in a stretch, then
// only at every so many moments: it takes a hundred times as long as the sign.
constexpr int kDepths = 40;
constexpr int kDepthEvery_moments = 32;

// A place in time: fraction of the way from moment i to i + 1 of the stretch.
struct Instant {
  int i = 0;
  double fraction = 0.0;
};

struct ShapePair {
  const PreparedShape *a, *b;
  Vector3d axis = Vector3d::Zero();   // separated them last, in B's frame
};

bool IsEndless(const CollisionWorld& world, int body) {
  for (const PreparedShape& shape : world.prepared().bodies[static_cast<std::size_t>(body)]) {
    if (shape.half_space()) return true;
  }
  return false;
}

bool ToolIn(const ClearanceRequest& request, const BodyMount& mount, int moment) {
  return mount.tool == 0 || request.tool_per_moment[static_cast<std::size_t>(moment)] == mount.tool;
}

std::vector<ShapePair> ShapesOf(const ClearanceRequest& request, const PairBodies& bodies) {
  std::vector<ShapePair> shapes;
  const auto& prepared = request.world->prepared().bodies;
  for (const PreparedShape& a : prepared[static_cast<std::size_t>(bodies.outer)]) {
    for (const PreparedShape& b : prepared[static_cast<std::size_t>(bodies.inner)]) shapes.push_back({&a, &b});
  }
  return shapes;
}

// So much beyond the limit, and what the voxels leave open, the uncut piece will do.
constexpr double kUncutWillDo_mm = 2.0;

// Where the uncut piece comes near the limit: what is left of it at a moment.
void CountWhatIsLeft(const PairBodies& bodies, const ShapeQuery& query, int moment, ConvexGap* gap) {
  if (!bodies.remaining) return;
  const double will_do_mm = bodies.limit_mm + 4.0 * bodies.remaining->bound_mm() + kUncutWillDo_mm;
  if (!(gap->distance_mm < will_do_mm)) return;
  const double uncut_mm = gap->lower_mm;
  *gap = bodies.remaining->GapTo(*query.a, query.X_BA[0], moment, std::max(query.stop_above_mm, will_do_mm));
  gap->lower_mm = std::max(gap->lower_mm, uncut_mm);
}

// The distance of A along a plane that stands still in B's frame, at any moment: a
// lower bound of the distance of the two.
class PlaneBetween {
 public:
  PlaneBetween(const ShapePair& pair, const PairBodies& bodies, const ChainMoments& moments)
      : pair_(pair), bodies_(bodies), moments_(moments), top_B_(HighestAlong(*pair.b, pair.axis)) {
    if (rests()) SetPlane(bodies.inner_mount.X_MA);
  }

  bool separates() const { return std::isfinite(top_B_); }

  double Gap_mm(int i) {
    if (!rests()) SetPlane(moments_.BodyPose(bodies_.inner_mount, i));
    const BodyMount& mount = bodies_.outer_mount;
    if (mount.on == BodyMount::On::kWorld) return Low(n_W_, mount.X_MA) - top_W_;
    const Pose& X_WC = moments_.X_WC(i, bodies_.outer_carrier);
    return n_W_.dot(X_WC.translation()) + Low(X_WC.linear().transpose() * n_W_, mount.X_MA) - top_W_;
  }

 private:
  bool rests() const { return bodies_.inner_mount.on == BodyMount::On::kWorld; }
  void SetPlane(const Pose& X_WB) {
    n_W_ = X_WB.linear() * pair_.axis;
    top_W_ = n_W_.dot(X_WB.translation()) + top_B_;
  }
  double Low(const Vector3d& n, const Pose& X_MA) const {
    return n.dot(X_MA.translation()) + LowestAlong(*pair_.a, X_MA.linear().transpose() * n);
  }

  const ShapePair& pair_;
  const PairBodies& bodies_;
  const ChainMoments& moments_;
  double top_B_;
  Vector3d n_W_ = Vector3d::Zero();
  double top_W_ = 0.0;   // of B, along n_W_
};

class PairSearch {
 public:
  PairSearch(const ClearanceRequest& request, const PairBodies& bodies, const ChainMoments& moments,
             const PairKnowledge& known)
      : request_(request), bodies_(bodies), moments_(moments), known_(known), close_(bodies.limit_mm),
        clashes_(0.0), voxel_mm_(bodies.remaining ? bodies.remaining->bound_mm() : 0.0),
        shapes_(ShapesOf(request, bodies)) {}

  PairFind Run() {
    const int last = moments_.count() - 1;
    if (!bodies_.moves) {
      // Nothing changes between the two: one moment with both is the whole truth.
      for (int i = 0; i <= last && !find_.nearest_moment; ++i) MeasureStill(i, last);
      return std::move(find_);
    }
    if (last == 0) {
      MeasureStill(0, 0);
      return std::move(find_);
    }
    for (ShapePair& pair : shapes_) {
      close_ = PassRecorder(bodies_.limit_mm);
      clashes_ = PassRecorder(0.0);
      for (int begin = 0; begin < last;) {
        int end = begin;
        while (end < last && Present(end)) ++end;
        if (end > begin) Scan(&pair, begin, end);
        begin = end + 1;
      }
      TakeSpans();
    }
    find_.close = JoinSpans(std::move(find_.close));
    find_.clashes = JoinSpans(std::move(find_.clashes));
    return std::move(find_);
  }

 private:
  bool PresentAt(int i) const {
    return ToolIn(request_, bodies_.outer_mount, moments_.first() + i) &&
           ToolIn(request_, bodies_.inner_mount, moments_.first() + i);
  }
  // Between i and i + 1 a cutter counts as there if it is there at either end.
  bool Present(int i) const {
    const auto either = [&](const BodyMount& mount) {
      return ToolIn(request_, mount, moments_.first() + i) || ToolIn(request_, mount, moments_.first() + i + 1);
    };
    return either(bodies_.outer_mount) && either(bodies_.inner_mount);
  }

  Pose PoseOf(const BodyMount& mount, const Instant& at) const {
    return moments_.BodyPose(mount, at.i, at.fraction);
  }
  Pose Relative(const Instant& at) const {
    return PoseOf(bodies_.inner_mount, at).inverse() * PoseOf(bodies_.outer_mount, at);
  }

  void TakeSpans() {
    for (PassSpan& span : close_.Take()) find_.close.push_back(std::move(span));
    for (PassSpan& span : clashes_.Take()) find_.clashes.push_back(std::move(span));
  }

  double Best() const { return std::min(known_.measured_mm, find_.nearest.clearance_mm); }
  double BestOrEnough() const { return std::min(Best(), request_.enough_mm); }
  // What the bounds must show: that nothing beats the best by more than this.
  double Resolution() const {
    // The depth of an overlap is an estimate; its sign is what matters.
    const double depth = Best() < 0 ? -Best() : 0.0;
    return request_.resolution_mm + voxel_mm_ + 0.25 * depth;
  }
  double Target() const { return BestOrEnough() - Resolution(); }
  // Where no question is left open by a lower bound, whatever was measured.
  double Clear() const { return std::max(Target(), bodies_.limit_mm); }
  // The same, told apart as well as the stretch asks for.
  double ClearAndTold() const { return std::max(Clear(), known_.told_apart_mm); }

  // No question is left open by a lower bound and the nearest that was measured in
  // the same part of a step.
  bool IsSettled(double lower_mm, double measured_mm) const {
    if (lower_mm < Target()) return false;
    if (measured_mm - lower_mm <= request_.resolution_mm + voxel_mm_) return true;
    const bool limit_settled = lower_mm >= bodies_.limit_mm || measured_mm < bodies_.limit_mm;
    return limit_settled && (lower_mm > 0.0 || measured_mm <= 0.0);
  }

  // Distance of the two shapes at one instant, taken into the best.
  ConvexGap Measure(ShapePair* pair, const Instant& at, double stop_above_mm) {
    ShapeQuery query;
    query.a = pair->a;
    query.b = pair->b;
    query.X_BA[0] = Relative(at);
    query.stop_above_mm = stop_above_mm;
    query.axis = pair->axis;
    query.depth = WantsDepth(at) ? DepthTest::kYes : DepthTest::kNo;
    ConvexGap gap = GapOf(query);
    pair->axis = gap.axis;
    CountWhatIsLeft(bodies_, query, moments_.first() + at.i, &gap);
    if (gap.hulls_meet) ++depths_;
    // How deep is not known, only that it is no less than what is known already.
    if (gap.hulls_meet && query.depth == DepthTest::kNo) gap.lower_mm = std::min(Best(), 0.0);
    Record(gap, at);
    if (gap.lower_mm < find_.nearest_lower_mm) {
      find_.nearest_lower_mm = gap.lower_mm;
      find_.nearest_moment = moments_.first() + at.i;
    }
    return gap;
  }

  bool WantsDepth(const Instant& at) const {
    return depths_ < kDepths || (at.fraction == 0.0 && (moments_.first() + at.i) % kDepthEvery_moments == 0);
  }

  void Record(const ConvexGap& gap, const Instant& at) {
    const bool nearer = gap.distance_mm < std::min(find_.nearest.clearance_mm, request_.enough_mm);
    const bool listed = gap.distance_mm < bodies_.limit_mm || gap.distance_mm <= 0.0;
    if (!nearer && !listed) return;
    const NearPlace place = PlaceOf(gap, at);
    if (nearer) find_.nearest = place;
    if (!listed) return;
    const double moment = moments_.first() + at.i + at.fraction;
    close_.Measured(moment, place);
    clashes_.Measured(moment, place);
  }

  NearPlace PlaceOf(const ConvexGap& gap, const Instant& at) const {
    const auto& track = *request_.track;
    const auto i = static_cast<std::size_t>(moments_.first() + at.i);
    const Pose X_WB = PoseOf(bodies_.inner_mount, at);
    NearPlace place;
    place.clearance_mm = gap.distance_mm;
    place.time_s = track.time_s[i];
    if (at.fraction > 0) place.time_s += at.fraction * (track.time_s[i + 1] - track.time_s[i]);
    place.line = at.fraction > 0 ? track.line[i + 1] : track.line[i];
    place.p_WA = X_WB * gap.p_A;
    place.p_WB = X_WB * gap.p_B;
    if (bodies_.swapped) std::swap(place.p_WA, place.p_WB);
    place.work_motion_W = moments_.WorkMotion(at.i, at.fraction);
    return place;
  }

  // Nothing in the part of time comes nearer than the bound.
  void Cover(const Instant& from, const Instant& to, double lower_mm) {
    find_.floor_mm = std::min(find_.floor_mm, lower_mm);
    const double begin = moments_.first() + from.i + from.fraction, end = moments_.first() + to.i + to.fraction;
    close_.Cover(begin, end, lower_mm);
    clashes_.Cover(begin, end, lower_mm);
  }

  void MeasureStill(int i, int last) {
    if (!PresentAt(i)) return;
    for (ShapePair& pair : shapes_) {
      const ConvexGap gap = Measure(&pair, {i, 0.0}, std::max(BestOrEnough(), bodies_.limit_mm));
      Cover({0, 0.0}, {last, 0.0}, gap.distance_mm);
      TakeSpans();
    }
    find_.close = JoinSpans(std::move(find_.close));
    find_.clashes = JoinSpans(std::move(find_.clashes));
  }

  ChainReach ReachOf(const ShapePair& pair) const {
    ChainReach::Carried carried;
    carried.shape = pair.a;
    carried.X_LA = bodies_.outer_mount.X_MA;
    // A body in the room is given in W, the room's place in the line is B's.
    if (bodies_.outer_mount.on == BodyMount::On::kWorld) carried.X_LA = request_.X_WB.inverse() * carried.X_LA;
    carried.outer = bodies_.outer_carrier;
    carried.inner = bodies_.inner_carrier;
    return {moments_, carried};
  }

  // Covers all time from moment `begin` to `end`.
  void Scan(ShapePair* pair, int begin, int end) {
    const ChainReach reach = ReachOf(*pair);
    ConvexGap known = MeasureToSkip(pair, reach, begin, end);
    for (int i = begin; i < end;) {
      int next = JumpFrom(reach, known, i, end);
      if (next == i) next = GoAlongPlane(*pair, reach, i, end);
      if (next == i) {
        Step(pair, reach, known, i);
        ++next;
      }
      i = next;
      if (i < end) known = MeasureToSkip(pair, reach, i, end);
    }
    Measure(pair, {end, 0.0}, std::max(BestOrEnough(), bodies_.limit_mm));
  }

  ConvexGap MeasureToSkip(ShapePair* pair, const ChainReach& reach, int i, int end) {
    const double step = i < end ? reach.PathBound_mm(reach.FromAxes(moments_, i), moments_.Turned(i, i + 1)) : 0.0;
    return Measure(pair, {i, 0.0}, std::max(ClearAndTold() + kWorthSkipping_steps * step, BestOrEnough()));
  }

  // The last moment up to which the distance measured at moment i leaves no question
  // open, whichever way the shapes go; i where that is not worth a jump.
  int JumpFrom(const ChainReach& reach, const ConvexGap& known, int i, int end) {
    double slack = known.lower_mm - ClearAndTold();
    // Nearer than the limit, and surely so on, without beating the best.
    if (known.distance_mm < bodies_.limit_mm && known.distance_mm > 0.0)
      slack = std::max(slack, std::min({known.lower_mm - Target(), bodies_.limit_mm - known.distance_mm, known.lower_mm}));
    if (!(slack > 0)) return i;
    const PerJoint from_axes = reach.FromAxes(moments_, i);
    const auto path = [&](int k) { return reach.PathBound_mm(from_axes, moments_.Turned(i, k)); };
    const int worth = std::min(i + kWorthJumping_steps, end);
    if (path(worth) > slack) return i;
    int safe = worth, step = kWorthJumping_steps;
    while (safe + step <= end && path(safe + step) <= slack) {
      safe += step;
      step *= 2;
    }
    for (; step > 0; step /= 2) {
      if (safe + step <= end && path(safe + step) <= slack) safe += step;
    }
    Cover({i, 0.0}, {safe, 0.0}, known.lower_mm - path(safe));
    return safe;
  }

  // Holds the plane that separated the two last against every moment from i on.
  // A point leaves the straight line between two moments by the bow at most.
  // @returns the moment up to which it leaves no question open.
  int GoAlongPlane(const ShapePair& pair, const ChainReach& reach, int i, int end) {
    PlaneBetween plane(pair, bodies_, moments_);
    if (!plane.separates()) return i;
    const double enough = ClearAndTold();
    double lower = kInfinity, here = plane.Gap_mm(i);
    int reached = i;
    for (; reached < end && here >= enough; ++reached) {
      const double next = plane.Gap_mm(reached + 1);
      const double gap = std::min(here, next) - reach.BowBound_mm(moments_.Turned(reached, reached + 1));
      if (!(gap >= enough)) break;
      lower = std::min(lower, gap);
      here = next;
    }
    if (reached > i) Cover({i, 0.0}, {reached, 0.0}, lower);
    return reached;
  }

  // Covers the time between two neighbouring moments.
  void Step(ShapePair* pair, const ChainReach& reach, const ConvexGap& known, int i) {
    const PerJoint turned = moments_.Turned(i, i + 1);
    StepBounds bounds{reach.PathBound_mm(reach.FromAxes(moments_, i), turned), reach.BowBound_mm(turned), 0};
    const bool apart_at_an_end =
        known.distance_mm > 0.0 || Measure(pair, {i + 1, 0.0}, BestOrEnough()).distance_mm > 0.0;
    if (apart_at_an_end) bounds.contact_halvings = kContactHalvings;
    Halve(pair, bounds, i, {0.0, 1.0, 0});
  }

  struct StepBounds {
    double path_mm, bow_mm;
    int contact_halvings;
  };
  struct Span {
    double from, to;
    int halvings;
    double length() const { return to - from; }
    double middle() const { return 0.5 * (from + to); }
  };

  // Lower bound over a part of a step: the shape at both ends, and everything
  // between, lies in the hull of the two poses grown by the bow.
  double SweptBound(ShapePair* pair, const StepBounds& bounds, int i, const Span& span) const {
    const double bow = bounds.bow_mm * span.length() * span.length();
    ShapeQuery query;
    query.a = pair->a;
    query.b = pair->b;
    query.poses = 2;
    query.X_BA[0] = Relative({i, span.from});
    query.X_BA[1] = Relative({i, span.to});
    query.stop_above_mm = Clear() + bow;
    query.axis = pair->axis;
    query.inside = InsideTest::kNo;
    query.depth = DepthTest::kNo;
    const ConvexGap gap = GapOf(query);
    pair->axis = gap.axis;
    return gap.hulls_meet ? -kInfinity : gap.lower_mm - bow;
  }

  void Halve(ShapePair* pair, const StepBounds& bounds, int i, const Span& span) {
    double lower = SweptBound(pair, bounds, i, span);
    if (lower < Clear()) {
      const ConvexGap middle = Measure(pair, {i, span.middle()}, std::max(BestOrEnough(), bodies_.limit_mm));
      lower = std::max(lower, middle.lower_mm - 0.5 * bounds.path_mm * span.length());
      const bool open = !IsSettled(lower, middle.distance_mm);
      // An overlap is decided: its depth is not worth more halvings, only its ends are.
      const int most = middle.distance_mm > 0.0 ? kMostHalvings : bounds.contact_halvings;
      if ((open || middle.distance_mm <= 0.0) && span.halvings < most) {
        Halve(pair, bounds, i, {span.from, span.middle(), span.halvings + 1});
        return Halve(pair, bounds, i, {span.middle(), span.to, span.halvings + 1});
      }
    }
    Cover({i, span.from}, {i, span.to}, lower);
  }

  const ClearanceRequest& request_;
  const PairBodies& bodies_;
  const ChainMoments& moments_;
  const PairKnowledge& known_;
  PairFind find_;
  PassRecorder close_, clashes_;
  double voxel_mm_;   // what the bricks leave open
  std::vector<ShapePair> shapes_;
  int depths_ = 0;
};

}  // namespace

PairBodies ArrangePair(const ClearanceRequest& request, const CarrierLine& line, const ClearancePair& pair) {
  const BodyMount &a = request.mounts[static_cast<std::size_t>(pair.a)],
                  &b = request.mounts[static_cast<std::size_t>(pair.b)];
  const int on_a = line.CarrierOf(a), on_b = line.CarrierOf(b);
  const bool swap = IsEndless(*request.world, pair.a) || (on_b > on_a && !IsEndless(*request.world, pair.b));
  PairBodies bodies{pair.a, pair.b, false, on_a != on_b, a, b, on_a, on_b, pair.limit_mm};
  if (swap) bodies = {pair.b, pair.a, true, on_a != on_b, b, a, on_b, on_a, pair.limit_mm};
  if (bodies.inner == request.cut_body.body) bodies.remaining = request.cut_body.piece;
  return bodies;
}

PairFind SearchPair(const ClearanceRequest& request, const PairBodies& bodies, const ChainMoments& moments,
                    const PairKnowledge& known) {
  return PairSearch(request, bodies, moments, known).Run();
}

double PairDistanceAt(const ClearanceRequest& request, const PairBodies& bodies, const ChainMoments& moments,
                      int i, double stop_above_mm) {
  const int moment = moments.first() + i;
  if (!ToolIn(request, bodies.outer_mount, moment) || !ToolIn(request, bodies.inner_mount, moment)) return kInfinity;
  double least = kInfinity;
  for (const ShapePair& pair : ShapesOf(request, bodies)) {
    ShapeQuery query;
    query.a = pair.a;
    query.b = pair.b;
    query.X_BA[0] = moments.BodyPose(bodies.inner_mount, i).inverse() * moments.BodyPose(bodies.outer_mount, i);
    query.stop_above_mm = std::min(stop_above_mm, least);
    query.depth = DepthTest::kNo;
    ConvexGap gap = GapOf(query);
    CountWhatIsLeft(bodies, query, moment, &gap);
    least = std::min(least, gap.distance_mm);
  }
  return least;
}

}  // namespace aircut::sim
