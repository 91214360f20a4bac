#include "verify/cross_lines.h"

#include <algorithm>
#include <cmath>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "verify/ridges.h"
#include "verify/track_passes.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

// A ray of a line: what the cut left over the design.
struct CrossPoint {
  sim::DepthRay ray;
  double along_mm = 0.0;               // from the sample, across the passes
  std::optional<double> design_mm;     // of the design's surface, on the ray
  std::optional<double> error_mm;      // of the cut above it
  int sweep = -1;
};
using Points = std::vector<CrossPoint>;

// Height of the design on a ray that starts near it.
std::optional<double> DesignOn(const sim::Job& job, const CrossPoint& point, const sim::RayDepth& depth, double within_mm) {
  const sim::Design& design = job.design;
  if (design.depth_below_stock_mm) return depth.stock_top_mm - *design.depth_below_stock_mm;
  if (design.image) {
    const Vector3d face_S = point.ray.p_SQ + depth.stock_top_mm * point.ray.up_S;
    const std::optional<double> asked = design.image->DepthUnder(face_S);
    return asked ? std::optional<double>(depth.stock_top_mm - *asked) : std::nullopt;
  }
  std::optional<double> nearest;
  if (design.mesh_S == nullptr) return nearest;
  for (const sim::MeshIndex::Hit& hit : design.mesh_S->Crossings(point.ray.p_SQ, point.ray.up_S, -within_mm, within_mm)) {
    if (!nearest || std::abs(hit.t_mm) < std::abs(*nearest)) nearest = hit.t_mm;
  }
  return nearest;
}

Points PointsOf(const CheckInputs& in, const CrossPlace& place) {
  const sim::DepthRay& ray = in.run.samples[static_cast<std::size_t>(place.sample)].ray;
  const Vector3d across = (place.across_S - place.across_S.dot(ray.up_S) * ray.up_S).normalized();
  const int half = static_cast<int>(std::ceil(place.half_mm / place.step_mm));
  Points points;
  for (int n = -half; n <= half; ++n) {
    CrossPoint point;
    point.along_mm = n * place.step_mm;
    point.ray = {ray.p_SQ + point.along_mm * across, ray.up_S};
    points.push_back(point);
  }
  return points;
}

// The rays that one pass cut, one after the other on the line.
struct Stretch {
  std::size_t first = 0, last = 0;
  std::optional<std::size_t> floor;   // lowest above the design; nothing where another pass cut it away
};

class LineReader {
 public:
  LineReader(const CheckInputs& in, const TrackPasses& passes, const Points& points, double step_mm)
      : in_(in), passes_(passes), points_(points), step_mm_(step_mm) {}

  std::vector<CrossPair> Read() const {
    std::vector<CrossPair> pairs;
    const std::vector<Stretch> stretches = Stretches();
    for (std::size_t n = 0; n + 1 < stretches.size(); ++n) {
      if (stretches[n + 1].first != stretches[n].last + 1) continue;
      if (const auto pair = PairOf(stretches[n], stretches[n + 1])) pairs.push_back(*pair);
    }
    return pairs;
  }

 private:
  double Error(std::size_t i) const { return *points_[i].error_mm; }
  bool Known(std::size_t i) const { return i < points_.size() && points_[i].error_mm.has_value() && points_[i].sweep >= 0; }

  std::vector<Stretch> Stretches() const {
    std::vector<Stretch> stretches;
    for (std::size_t i = 0; i < points_.size(); ++i) {
      if (!Known(i)) continue;
      const bool goes_on = !stretches.empty() && stretches.back().last + 1 == i &&
                           passes_.OnePass(points_[i - 1].sweep, points_[i].sweep, points_[i].ray.p_SQ);
      if (!goes_on) stretches.push_back({i, i, std::nullopt});
      stretches.back().last = i;
    }
    for (Stretch& s : stretches) s.floor = FloorOf(s);
    return stretches;
  }

  // A lowest ray at an end is on the way down to what another pass cut, or is not seen.
  std::optional<std::size_t> FloorOf(const Stretch& s) const {
    constexpr double kLevel_mm = 1e-6;   // a flat cutter's floor is level up to its ends
    std::optional<std::size_t> floor;
    for (std::size_t i = s.first + 1; i < s.last; ++i) {
      if (!floor || Error(i) < Error(*floor)) floor = i;
    }
    const bool falls_on = floor && std::min(Error(s.first), Error(s.last)) < Error(*floor) - kLevel_mm;
    return falls_on ? std::nullopt : floor;
  }

  // Lowest within three quarters of the stepover from a border, going one way; nothing where
  // the line ends before.
  std::optional<CrossPair::Height> LowestBeside(std::size_t border, int way, double apart_mm) const {
    const auto rays = static_cast<std::size_t>(std::ceil(0.75 * apart_mm / step_mm_));
    std::size_t lowest = border;
    for (std::size_t n = 1; n <= rays; ++n) {
      const std::size_t i = way > 0 ? border + n : border - n;   // wraps to what is not known
      if (!Known(i)) return std::nullopt;
      if (Error(i) < Error(lowest)) lowest = i;
    }
    const CrossPoint& at = points_[lowest];
    return CrossPair::Height{at.ray.p_SQ + *at.design_mm * at.ray.up_S, *at.error_mm};
  }

  std::optional<CrossPair> PairOf(const Stretch& a, const Stretch& b) const {
    const std::size_t top = Error(b.first) > Error(a.last) ? b.first : a.last;
    const CrossPoint& at = points_[top];
    const auto first = passes_.At(points_[a.last].sweep, at.ray.p_SQ), second = passes_.At(points_[b.first].sweep, at.ray.p_SQ);
    if (!first || !second || !TrackPasses::SideBySide(*first, *second)) return std::nullopt;
    Vector3d across = second->p_S - first->p_S;
    across -= across.dot(first->feed_S) * first->feed_S;
    CrossPair pair;
    pair.apart_mm = across.norm();
    pair.p_S = at.ray.p_SQ + *at.design_mm * at.ray.up_S;
    pair.top = {pair.p_S, *at.error_mm};
    const double lean = Lean(*first, *second, at.ray);
    MeasureRidge(a.last, b.first, lean, pair);
    MeasureStep(a, b, first->feed_S, pair);
    return pair;
  }

  void MeasureRidge(std::size_t last, std::size_t first, double lean, CrossPair& pair) const {
    const sim::Cutter& cutter = passes_.CutterOf(points_[last].sweep);
    if (passes_.ToolOf(points_[last].sweep) != passes_.ToolOf(points_[first].sweep)) return;
    if (!RidgeHeight(cutter, pair.apart_mm)) return;
    const auto left = LowestBeside(last, -1, pair.apart_mm), right = LowestBeside(first, 1, pair.apart_mm);
    if (!left || !right) return;
    pair.lean = lean;
    pair.floors = {*left, *right};
    pair.ridge_mm = std::max(0.0, pair.top.mm - std::max(left->mm, right->mm)) * lean;
    pair.ridge_hidden_mm = TopHidden(last, first) * lean + FloorHidden(points_[last].sweep) + 2.0 * sim::kRayBound_mm;
  }

  // Between the last ray of one pass and the first of the other both flanks go on rising, each
  // a bit steeper with every ray: no higher than where their tangents meet.
  double TopHidden(std::size_t last, std::size_t first) const {
    const double slope_a = SlopeAt(last, last - 1, last - 2), slope_b = SlopeAt(first, first + 1, first + 2);
    if (slope_a + slope_b <= 0.0) return 0.0;
    const double way_mm = std::clamp((Error(first) - Error(last) + slope_b * step_mm_) / (slope_a + slope_b), 0.0, step_mm_);
    return std::max(0.0, Error(last) + slope_a * way_mm - std::max(Error(last), Error(first)));
  }

  // Rise of a flank beyond its last ray, over the way: that before it, and as much more as
  // there it was more than the one before; of a short flank that of the cutter on a flat face.
  double SlopeAt(std::size_t end, std::size_t before, std::size_t first) const {
    const double rise = Error(end) - Error(before);
    if (!Known(first) || points_[first].sweep < 0) return std::max(0.0, kCurved * rise / step_mm_);
    const double gain = rise - (Error(before) - Error(first));
    return std::max(0.0, (rise + std::max(0.0, 1.1 * gain)) / step_mm_);
  }

  // Along the normal of the design between both floors: cutters of two sizes have their
  // centres at two heights.
  void MeasureStep(const Stretch& a, const Stretch& b, const Vector3d& feed_S, CrossPair& pair) const {
    if (!a.floor || !b.floor) return;
    const CrossPoint &from = points_[*a.floor], &to = points_[*b.floor];
    const Vector3d way = to.ray.p_SQ + *to.design_mm * to.ray.up_S - from.ray.p_SQ - *from.design_mm * from.ray.up_S;
    const Vector3d normal = way.cross(feed_S);
    const double lean = normal.norm() > 1e-9 ? std::abs(normal.normalized().dot(to.ray.up_S)) : 1.0;
    const int sweep_a = points_[*a.floor].sweep, sweep_b = points_[*b.floor].sweep;
    const double rise_mm = (Error(*a.floor) - Error(*b.floor)) * lean;
    pair.step_mm = std::abs(rise_mm);
    pair.step_bound_mm = std::max(FloorHidden(sweep_a), FloorHidden(sweep_b)) + 2.0 * sim::kRayBound_mm;
    pair.high_sweep = rise_mm > 0.0 ? sweep_a : sweep_b;
    pair.low_sweep = rise_mm > 0.0 ? sweep_b : sweep_a;
  }

  // Along the ray a height on a slope is larger than along the normal.
  static double Lean(const PassPlace& a, const PassPlace& b, const sim::DepthRay& ray) {
    Vector3d across = b.p_S - a.p_S;
    across -= across.dot(a.feed_S) * a.feed_S;
    if (across.norm() < 1e-9) return 1.0;
    const Vector3d normal = across.normalized().cross(a.feed_S);
    return std::abs(normal.dot(ray.up_S));
  }

  // A floor lies at most half a step beside its lowest ray.
  double FloorHidden(int sweep) const { return kCurved * RidgeHeight(passes_.CutterOf(sweep), step_mm_).value_or(0.0); }

  // A design that curves away as sharply as the cutter does doubles what a flat one makes; one
  // that curves more sharply has no floor to speak of.
  static constexpr double kCurved = 2.0;

  const CheckInputs& in_;
  const TrackPasses& passes_;
  const Points& points_;
  double step_mm_;
};

}  // namespace

std::vector<std::vector<CrossPair>> MeasureAcross(const CheckInputs& in, const std::vector<CrossPlace>& places) {
  std::vector<std::vector<CrossPair>> pairs(places.size());
  if (places.empty() || in.job.stock_S == nullptr) return pairs;
  std::vector<Points> lines;
  std::vector<sim::DepthRay> rays;
  for (const CrossPlace& place : places) {
    lines.push_back(PointsOf(in, place));
    for (const CrossPoint& point : lines.back()) rays.push_back(point.ray);
  }
  constexpr double kSlack_mm = 1.0;   // as the depth's own rays
  const std::vector<sim::RayDepth> depths = sim::CutRays(*in.job.stock_S, in.run.track, rays, kSlack_mm, in.threads);
  std::vector<std::size_t> first(1, 0);
  for (const Points& line : lines) first.push_back(first.back() + line.size());
  const TrackPasses passes(in.run.track);
  tbb::task_arena arena(in.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, places.size(), [&](std::size_t n) {
      for (std::size_t i = 0; i < lines[n].size(); ++i) {
        const sim::RayDepth& depth = depths[first[n] + i];
        if (!depth.has_material || !depth.touched || depth.cut_through) continue;
        CrossPoint& point = lines[n][i];
        point.design_mm = DesignOn(in.job, point, depth, places[n].half_mm + 1.0);
        if (!point.design_mm) continue;
        point.error_mm = depth.top_mm - *point.design_mm;
        point.sweep = depth.sweep;
      }
      pairs[n] = LineReader(in, passes, lines[n], places[n].step_mm).Read();
    });
  });
  return pairs;
}

}  // namespace aircut::verify
