#include "sim/clearance.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <stdexcept>
#include <string>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/pair_search.h"
#include "sim/prepared_shape.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// The motion is cut into so many stretches, none shorter than the second or longer
// than the third: that bounds the memory for poses.
constexpr int kStretches = 240;
constexpr int kLeastMoments = 32;
constexpr int kMostMoments = 16384;
// The clearance over time is told apart to this share of the nearest pair's.
constexpr double kTold = 0.9;

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


struct StretchFinds {
  std::vector<PairFind> pairs;
  ClearanceStretch curve;
};

class ClearanceSearch {
 public:
  explicit ClearanceSearch(const ClearanceRequest& request)
      : request_(request), last_(static_cast<int>(request.track->size()) - 1), line_(*request.arm) {
    for (const ClearancePair& pair : request.pairs) bodies_.push_back(ArrangePair(request, line_, pair));
    const int per_stretch = (last_ + kStretches - 1) / kStretches;
    length_ = std::clamp(per_stretch, kLeastMoments, kMostMoments);
    stretches_ = std::max(1, (last_ + length_ - 1) / length_);
  }

  ClearanceResult Run() {
    ForEachStretch([this](int s) { Sample(s); });
    for (const std::vector<double>& distances : sampled_) {
      for (std::size_t p = 0; p < distances.size(); ++p) measured_[p] = std::min(measured_[p], distances[p]);
    }
    ForEachStretch([this](int s) { Search(s); });
    ClearanceResult result;
    result.pairs.resize(bodies_.size());
    tbb::task_arena arena(request_.threads);
    arena.execute([&] {
      tbb::parallel_for(std::size_t{0}, bodies_.size(), [&](std::size_t p) { result.pairs[p] = ResultOf(p); });
    });
    for (const StretchFinds& finds : finds_) result.over_time.push_back(finds.curve);
    return result;
  }

 private:
  template <typename Work>
  void ForEachStretch(const Work& work) {
    sampled_.resize(static_cast<std::size_t>(stretches_));
    finds_.resize(static_cast<std::size_t>(stretches_));
    measured_.resize(bodies_.size(), kInfinity);
    tbb::task_arena arena(request_.threads);
    arena.execute([&] { tbb::parallel_for(0, stretches_, work); });
  }

  // Neighbouring stretches share a moment, so that no step is left out.
  int First(int s) const { return s * length_; }
  int Last(int s) const { return std::min(last_, (s + 1) * length_); }

  // What is measured at the middle of every stretch gives all searches something to
  // beat.
  void Sample(int s) {
    const ChainMoments moments(*request_.arm, request_.X_WB, *request_.track, (First(s) + Last(s)) / 2, 1);
    for (const PairBodies& bodies : bodies_) {
      sampled_[static_cast<std::size_t>(s)].push_back(
          PairDistanceAt(request_, bodies, moments, 0, request_.enough_mm));
    }
  }

  void Search(int s) {
    const auto at = static_cast<std::size_t>(s);
    StretchFinds& finds = finds_[at];
    const ChainMoments moments(*request_.arm, request_.X_WB, *request_.track, First(s), Last(s) - First(s) + 1);
    finds.curve = StretchOf(s);
    double nearest_mm = request_.enough_mm;
    for (const double d : sampled_[at]) nearest_mm = std::min(nearest_mm, d);
    for (std::size_t p = 0; p < bodies_.size(); ++p) {
      finds.pairs.push_back(SearchPair(request_, bodies_[p], moments, {measured_[p], kTold * nearest_mm}));
      const PairFind& find = finds.pairs.back();
      nearest_mm = std::min(nearest_mm, find.nearest.clearance_mm);
      if (!find.nearest_moment || find.floor_mm >= finds.curve.lower_mm) continue;
      finds.curve.lower_mm = find.floor_mm;
      finds.curve.pair = static_cast<int>(p);
      finds.curve.line = request_.track->line[static_cast<std::size_t>(*find.nearest_moment)];
    }
  }

  ClearanceStretch StretchOf(int s) const {
    const auto& times = request_.track->time_s;
    return {times[static_cast<std::size_t>(First(s))], times[static_cast<std::size_t>(Last(s))],
            request_.enough_mm, -1, 0};
  }

  PairClearance ResultOf(std::size_t p) const {
    PairClearance out;
    out.a = request_.pairs[p].a;
    out.b = request_.pairs[p].b;
    double floor = kInfinity;
    std::vector<PassSpan> close, clashes;
    for (const StretchFinds& finds : finds_) {
      const PairFind& find = finds.pairs[p];
      floor = std::min(floor, find.floor_mm);
      if (find.nearest.clearance_mm < out.clearance_mm) static_cast<NearPlace&>(out) = find.nearest;
      close.insert(close.end(), find.close.begin(), find.close.end());
      clashes.insert(clashes.end(), find.clashes.begin(), find.clashes.end());
    }
    for (const PassSpan& span : JoinSpans(std::move(close))) out.close.push_back(PassOn(*request_.track, span));
    for (const PassSpan& span : JoinSpans(std::move(clashes))) out.clashes.push_back(PassOn(*request_.track, span));
    const std::optional<int> nearest_moment = NearestMoment(p);
    if (!nearest_moment) {
      // Never there together: nothing is measured, and nothing unsure.
      out.clearance_mm = request_.enough_mm;
      return out;
    }
    if (!(out.clearance_mm < request_.enough_mm)) {
      floor = std::min(floor, request_.enough_mm);
      SetFarResult(*nearest_moment, &out);
    }
    out.bound_mm = std::max(0.0, out.clearance_mm - floor) + CollisionWorld::kDistanceBound_mm;
    return out;
  }

  std::optional<int> NearestMoment(std::size_t p) const {
    std::optional<int> moment;
    double lower_mm = kInfinity;
    for (const StretchFinds& finds : finds_) {
      const PairFind& find = finds.pairs[p];
      if (!find.nearest_moment || !(find.nearest_lower_mm < lower_mm)) continue;
      lower_mm = find.nearest_lower_mm;
      moment = find.nearest_moment;
    }
    return moment;
  }

  // Nothing came nearer than enough: shows the nearest place that was looked at.
  void SetFarResult(int moment, PairClearance* out) const {
    const ChainMoments moments(*request_.arm, request_.X_WB, *request_.track, moment, 1);
    const auto pose = [&](int body) { return moments.BodyPose(request_.mounts[static_cast<std::size_t>(body)], 0); };
    const PairDistance d = request_.world->Distance(out->a, pose(out->a), out->b, pose(out->b));
    out->clearance_mm = d.distance_mm;
    out->time_s = request_.track->time_s[static_cast<std::size_t>(moment)];
    out->line = request_.track->line[static_cast<std::size_t>(moment)];
    out->p_WA = d.p_WA;
    out->p_WB = d.p_WB;
    out->work_motion_W = moments.WorkMotion(0, 0.0);
  }

  const ClearanceRequest& request_;
  const int last_;
  const CarrierLine line_;
  int length_ = 0, stretches_ = 0;
  std::vector<PairBodies> bodies_;
  std::vector<std::vector<double>> sampled_;   // per stretch and pair, at its middle moment
  std::vector<double> measured_;               // per pair: the least of them
  std::vector<StretchFinds> finds_;            // per stretch
};

}  // namespace

ClearanceResult SmallestClearances(const ClearanceRequest& request) {
  Check(request);
  return ClearanceSearch(request).Run();
}

}  // namespace aircut::sim
