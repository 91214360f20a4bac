#include "sim/clearance.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <stdexcept>
#include <string>

#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/chain_motion.h"
#include "sim/prepared_shape.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// Moments whose poses are held at a time: bounds memory, not the result's worth.
constexpr int kBlockMoments = 16384;
// Moments per block and pair that are tried first, so that the search starts
// with a small distance to beat.
constexpr int kFirstTries = 48;
// A query stops once the distance lets this many steps be skipped.
constexpr double kWorthSkipping_steps = 24.0;
// Halvings between two moments; the rest goes into the bound.
constexpr int kMostHalvings = 12;

// A place in time: fraction of the way from moment i to i + 1 of the block.
struct Instant {
  int i = 0;
  double fraction = 0.0;
};

// Best and bound of one pair so far, over all blocks.
struct PairState {
  double best_mm = kInfinity;      // smallest distance measured
  double floor_mm = kInfinity;     // nothing between the measured ones is below
  double time_s = 0.0;
  int line = 0;
  Vector3d p_WA = Vector3d::Zero(), p_WB = Vector3d::Zero();
  Pose work_motion_W = Pose::Identity();
  std::optional<int> nearest_moment;   // where the first tries came nearest
  double nearest_mm = kInfinity;
};

// The two bodies of a pair, `outer` the one whose way is bounded: the one farther
// out in the line of carriers, never a half space.
struct PairBodies {
  int outer = 0, inner = 0;
  bool swapped = false;            // outer is the request's b
  bool moves = false;              // the two have different carriers
  BodyMount outer_mount, inner_mount;
  int outer_carrier = 0, inner_carrier = 0;
};

bool IsEndless(const CollisionWorld& world, int body) {
  for (const PreparedShape& shape : world.prepared().bodies[body]) {
    if (shape.half_space()) return true;
  }
  return false;
}

PairBodies Arrange(const ClearanceRequest& request, const CarrierLine& line, const ClearancePair& pair) {
  const BodyMount &a = request.mounts[pair.a], &b = request.mounts[pair.b];
  const int on_a = line.CarrierOf(a), on_b = line.CarrierOf(b);
  const bool swap = IsEndless(*request.world, pair.a) || (on_b > on_a && !IsEndless(*request.world, pair.b));
  if (swap) return {pair.b, pair.a, true, on_a != on_b, b, a, on_b, on_a};
  return {pair.a, pair.b, false, on_a != on_b, a, b, on_a, on_b};
}

// One pair of bodies during one block of moments.
class PairSearch {
 public:
  PairSearch(const ClearanceRequest& request, const PairBodies& bodies,
             const ChainMoments& moments, PairState* state)
      : request_(request), bodies_(bodies), moments_(moments), state_(*state) {
    const auto& prepared = request.world->prepared().bodies;
    for (const PreparedShape& a : prepared[bodies.outer]) {
      for (const PreparedShape& b : prepared[bodies.inner]) shapes_.push_back({&a, &b, Vector3d::Zero()});
    }
  }

  void Run() {
    const int last = moments_.count() - 1;
    if (!bodies_.moves) {
      // Nothing changes between the two: one moment with both is the whole truth.
      for (int i = 0; i <= last && !state_.nearest_moment; ++i) Try(i);
      return;
    }
    Try(0);
    for (int k = 1, tried = 0; k <= kFirstTries; ++k) {
      const auto i = static_cast<int>(static_cast<std::int64_t>(last) * k / kFirstTries);
      if (i != tried) Try(i);   // a short track has fewer moments than tries
      tried = i;
    }
    for (ShapePair& pair : shapes_) {
      for (int begin = 0; begin < last;) {
        int end = begin;
        while (end < last && Present(end)) ++end;
        if (end > begin) Scan(&pair, begin, end);
        begin = end + 1;
      }
    }
  }

 private:
  struct ShapePair {
    const PreparedShape *a, *b;
    Vector3d axis;   // separated them last, in B's frame
  };

  bool ToolIn(const BodyMount& mount, int i) const {
    return mount.tool == 0 || request_.tool_per_moment[moments_.first() + i] == mount.tool;
  }
  bool PresentAt(int i) const {
    return ToolIn(bodies_.outer_mount, i) && ToolIn(bodies_.inner_mount, i);
  }
  // Between i and i + 1 a cutter counts as there if it is there at either end.
  bool Present(int i) const {
    return (ToolIn(bodies_.outer_mount, i) || ToolIn(bodies_.outer_mount, i + 1)) &&
           (ToolIn(bodies_.inner_mount, i) || ToolIn(bodies_.inner_mount, i + 1));
  }

  Pose PoseOf(const BodyMount& mount, const Instant& at) const {
    return moments_.BodyPose(mount, at.i, at.fraction);
  }
  Pose Relative(const Instant& at) const {
    return PoseOf(bodies_.inner_mount, at).inverse() * PoseOf(bodies_.outer_mount, at);
  }

  // What the bounds must show: that nothing beats the best by more than this.
  double Resolution() const {
    // The depth of an overlap is an estimate; its sign is what matters.
    const double depth = state_.best_mm < 0 ? -state_.best_mm : 0.0;
    return request_.resolution_mm + 0.25 * depth;
  }
  double BestOrEnough() const { return std::min(state_.best_mm, request_.enough_mm); }
  double Target() const { return BestOrEnough() - Resolution(); }

  // Distance of the two shapes at one instant, taken into the best.
  // @returns a value no larger than the true distance.
  double Measure(ShapePair* pair, const Instant& at, double stop_above_mm) {
    ShapeQuery query;
    query.a = pair->a;
    query.b = pair->b;
    query.X_BA[0] = Relative(at);
    query.stop_above_mm = stop_above_mm;
    query.axis = pair->axis;
    const ConvexGap gap = GapOf(query);
    pair->axis = gap.axis;
    if (gap.distance_mm < BestOrEnough()) Record(gap, at);
    if (gap.lower_mm < state_.nearest_mm) {
      state_.nearest_mm = gap.lower_mm;
      state_.nearest_moment = moments_.first() + at.i;
    }
    return gap.lower_mm;
  }

  void Record(const ConvexGap& gap, const Instant& at) {
    const auto& track = *request_.track;
    const int i = moments_.first() + at.i;
    const Pose X_WB = PoseOf(bodies_.inner_mount, at);
    state_.best_mm = gap.distance_mm;
    state_.time_s = track.time_s[i];
    if (at.fraction > 0) state_.time_s += at.fraction * (track.time_s[i + 1] - track.time_s[i]);
    state_.line = at.fraction > 0 ? track.line[i + 1] : track.line[i];
    state_.p_WA = X_WB * gap.p_A;
    state_.p_WB = X_WB * gap.p_B;
    if (bodies_.swapped) std::swap(state_.p_WA, state_.p_WB);
    state_.work_motion_W = moments_.WorkMotion(at.i, at.fraction);
  }

  void Try(int i) {
    if (!PresentAt(i)) return;
    for (ShapePair& pair : shapes_) Measure(&pair, {i, 0.0}, BestOrEnough());
  }

  ChainReach ReachOf(const ShapePair& pair) const {
    ChainReach::Carried carried;
    carried.shape = pair.a;
    carried.X_LA = bodies_.outer_mount.X_MA;
    // A body in the room is given in W, the room's place in the line is B's.
    if (bodies_.outer_mount.on == BodyMount::On::kWorld)
      carried.X_LA = request_.X_WB.inverse() * carried.X_LA;
    carried.outer = bodies_.outer_carrier;
    carried.inner = bodies_.inner_carrier;
    return {moments_, carried};
  }

  // Covers all time from moment `begin` to `end`.
  void Scan(ShapePair* pair, int begin, int end) {
    const ChainReach reach = ReachOf(*pair);
    double known = MeasureToSkip(pair, reach, begin, end);
    for (int i = begin; i < end;) {
      const int next = FarthestSafe(reach, i, end, &known);
      if (next > i) {
        i = next;
        if (i < end) known = MeasureToSkip(pair, reach, i, end);
        continue;
      }
      known = Step(pair, reach, i);
      ++i;
    }
    if (end > begin) Measure(pair, {end, 0.0}, BestOrEnough());
  }

  double MeasureToSkip(ShapePair* pair, const ChainReach& reach, int i, int end) {
    const double step = i < end ? reach.PathBound_mm(reach.FromAxes(moments_, i),
                                                     moments_.Turned(i, i + 1))
                                : 0.0;
    const double stop = std::max(Target() + kWorthSkipping_steps * step, BestOrEnough());
    return Measure(pair, {i, 0.0}, stop);
  }

  // The last moment up to which the shapes cannot have come nearer than the
  // target, when they are at least `known` apart at moment i.
  int FarthestSafe(const ChainReach& reach, int i, int end, double* known) {
    const double slack = *known - Target();
    if (!(slack >= 0)) return i;
    const PerJoint from_axes = reach.FromAxes(moments_, i);
    const auto path = [&](int k) {
      return reach.PathBound_mm(from_axes, moments_.Turned(i, k));
    };
    int safe = i, step = 1;
    while (safe + step <= end && path(safe + step) <= slack) {
      safe += step;
      step *= 2;
    }
    for (; step > 0; step /= 2) {
      if (safe + step <= end && path(safe + step) <= slack) safe += step;
    }
    if (safe > i) state_.floor_mm = std::min(state_.floor_mm, *known - path(safe));
    return safe;
  }

  // Covers the time between two neighbouring moments.
  // @returns a value no larger than the distance at moment i + 1.
  double Step(ShapePair* pair, const ChainReach& reach, int i) {
    const PerJoint turned = moments_.Turned(i, i + 1);
    const StepBounds bounds{reach.PathBound_mm(reach.FromAxes(moments_, i), turned),
                            reach.BowBound_mm(turned)};
    return Halve(pair, bounds, i, {0.0, 1.0, 0});
  }

  struct StepBounds {
    double path_mm, bow_mm;
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
    query.stop_above_mm = Target() + bow;
    query.axis = pair->axis;
    query.inside = InsideTest::kNo;
    const ConvexGap gap = GapOf(query);
    pair->axis = gap.axis;
    return gap.hulls_meet ? -kInfinity : gap.lower_mm - bow;
  }

  double Halve(ShapePair* pair, const StepBounds& bounds, int i, const Span& span) {
    double lower = SweptBound(pair, bounds, i, span);
    if (lower < Target()) {
      const double middle = Measure(pair, {i, span.middle()}, BestOrEnough());
      const double path = bounds.path_mm * span.length();
      lower = std::max(lower, middle - 0.5 * path);
      // While apart go on until the bound is met; an overlap is already decided.
      if (lower < Target() && state_.best_mm >= 0 && span.halvings < kMostHalvings) {
        Halve(pair, bounds, i, {span.from, span.middle(), span.halvings + 1});
        return Halve(pair, bounds, i, {span.middle(), span.to, span.halvings + 1});
      }
    }
    state_.floor_mm = std::min(state_.floor_mm, lower);
    return lower;
  }

  const ClearanceRequest& request_;
  const PairBodies bodies_;
  const ChainMoments& moments_;
  PairState& state_;
  std::vector<ShapePair> shapes_;
};

void Require(bool ok, const std::string& what) {
  if (!ok) throw std::invalid_argument("clearance request: " + what);
}

void CheckBody(const ClearanceRequest& request, int body) {
  const std::string name = "pairs: body " + std::to_string(body);
  Require(body >= 0 && body < request.world->body_count(), name + " must be in [0, bodies - 1]");
  const BodyMount& mount = request.mounts[body];
  const bool on_link = mount.on == BodyMount::On::kLink;
  const auto links = static_cast<int>(request.arm->chain().size());
  Require(!on_link || (mount.link >= 0 && mount.link <= links),
          "mounts: link = " + std::to_string(mount.link) + " must be in [0, joints]");
  for (const PreparedShape& shape : request.world->prepared().bodies[body]) {
    const bool stands = mount.on == BodyMount::On::kWorld || (on_link && mount.link == 0);
    Require(stands || !shape.half_space(), name + ": a half space must stand still");
  }
}

void Check(const ClearanceRequest& request) {
  Require(request.arm && request.track && request.world, "arm, track and world must be given");
  const std::size_t moments = request.track->size();
  Require(moments > 0, "track must have a moment");
  Require(request.track->q.size() == moments && request.track->line.size() == moments,
          "track arrays must have one entry per moment");
  Require(request.tool_per_moment.size() == moments,
          "tool_per_moment must have one entry per moment");
  Require(static_cast<int>(request.mounts.size()) == request.world->body_count(),
          "mounts must have one entry per body");
  Require(request.resolution_mm > 0 && request.enough_mm > 0,
          "resolution_mm and enough_mm must be > 0");
  Require(request.threads > 0, "threads = " + std::to_string(request.threads) + " must be > 0");
  for (const ClearancePair& pair : request.pairs) {
    CheckBody(request, pair.a);
    CheckBody(request, pair.b);
    Require(pair.a != pair.b, "pairs: a body has no clearance from itself");
  }
}

// Nothing came nearer than enough: shows the nearest place that was looked at.
PairClearance FarResult(const ClearanceRequest& request, const ClearancePair& pair,
                        const PairState& state) {
  PairClearance out{pair.a, pair.b, request.enough_mm, 0.0, 0.0, 0, {}, {}, {}, Pose::Identity()};
  out.p_WA = out.p_WB = Vector3d::Zero();
  if (!state.nearest_moment) return out;   // the two are never there together
  const int i = *state.nearest_moment;
  const ChainMoments moments(*request.arm, request.X_WB, *request.track, i, 1);
  const auto pose = [&](const BodyMount& mount) { return moments.BodyPose(mount, 0); };
  const PairDistance d = request.world->Distance(pair.a, pose(request.mounts[pair.a]), pair.b,
                                                 pose(request.mounts[pair.b]));
  out.clearance_mm = d.distance_mm;
  out.bound_mm = std::max(0.0, d.distance_mm - std::min(state.floor_mm, request.enough_mm)) +
                 CollisionWorld::kDistanceBound_mm;
  out.time_s = request.track->time_s[i];
  out.line = request.track->line[i];
  out.p_WA = d.p_WA;
  out.p_WB = d.p_WB;
  out.work_motion_W = moments.WorkMotion(0, 0.0);
  return out;
}

PairClearance ResultOf(const ClearanceRequest& request, const ClearancePair& pair,
                       const PairState& state) {
  if (!(state.best_mm < request.enough_mm)) return FarResult(request, pair, state);
  PairClearance out{pair.a,     pair.b,     state.best_mm, 0.0, state.time_s,
                    state.line, state.p_WA, state.p_WB,    {},  state.work_motion_W};
  out.bound_mm =
      std::max(0.0, state.best_mm - state.floor_mm) + CollisionWorld::kDistanceBound_mm;
  return out;
}

}  // namespace

std::vector<PairClearance> SmallestClearances(const ClearanceRequest& request) {
  Check(request);
  const int pairs = static_cast<int>(request.pairs.size());
  const int last = static_cast<int>(request.track->size()) - 1;
  std::vector<PairState> states(pairs);
  const CarrierLine line(*request.arm);
  tbb::task_arena arena(request.threads);
  for (int first = 0; first == 0 || first < last; first += kBlockMoments) {
    // Neighbouring blocks share a moment, so that no step is left out.
    const int count = std::min(kBlockMoments, last - first) + 1;
    const ChainMoments moments(*request.arm, request.X_WB, *request.track, first, count);
    arena.execute([&] {
      tbb::parallel_for(tbb::blocked_range<int>(0, pairs, 1), [&](const auto& range) {
        for (int p = range.begin(); p < range.end(); ++p) {
          PairSearch(request, Arrange(request, line, request.pairs[p]), moments, &states[p]).Run();
        }
      }, tbb::simple_partitioner());
    });
  }
  std::vector<PairClearance> results;
  for (int p = 0; p < pairs; ++p) results.push_back(ResultOf(request, request.pairs[p], states[p]));
  return results;
}

}  // namespace aircut::sim
