#include "verify/ridges.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "verify/neighbour_cells.h"
#include "verify/patches.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

// Radius of the ball that ends the cutter at its tip, 0 where it ends otherwise.
double TipBall(const sim::Cutter& cutter) {
  for (const sim::BallString& s : cutter.strings()) {
    if (s.r0_mm > 0.0 && std::abs(s.z0_mm - s.r0_mm) < 1e-9) return s.r0_mm;
  }
  return 0.0;
}

// Height above the tip at which the outline is this far from the axis.
double OutlineHeight(const sim::Cutter& cutter, double r_mm) {
  double low = 0.0, high = cutter.flute_length_mm();
  while (high - low > 1e-9) {
    const double mid = 0.5 * (low + high);
    (cutter.RadiusAt(mid) < r_mm ? low : high) = mid;
  }
  return high;
}

// Rise of the ridge's flank over the way across.
double FlankSlope(const sim::Cutter& cutter, double apart_mm) {
  constexpr double kStep_mm = 1e-4;
  const double at = RidgeHeight(cutter, apart_mm).value_or(0.0);
  const double before = RidgeHeight(cutter, std::max(0.0, apart_mm - 2.0 * kStep_mm)).value_or(0.0);
  // The flank is steepest at its top; the step's own error is a part of its curve.
  return 1.01 * (at - before) / kStep_mm;
}

// A place of the track that cut a sample.
struct Pass {
  Vector3d p_S;        // the tip ball's centre, else the tip end
  Vector3d feed_S;     // unit
  double way_mm;       // along the track from its start
};

// Where sweeps are on the track, and which samples they cut side by side.
class Passes {
 public:
  explicit Passes(const sim::Run& run) : run_(run), way_mm_(1, 0.0) {
    const sim::ToolTrack& track = run.track;
    for (std::size_t i = 0; i + 1 < track.p_ST.size(); ++i) {
      way_mm_.push_back(way_mm_.back() + (track.p_ST[i + 1] - track.p_ST[i]).norm());
    }
    for (const sim::TrackTool& tool : track.tools) tip_ball_mm_.push_back(TipBall(tool.cutter));
  }

  const sim::Cutter& CutterOf(int sweep) const { return run_.track.tools[ToolOf(sweep)].cutter; }
  std::size_t ToolOf(int sweep) const { return static_cast<std::size_t>(run_.track.sweeps[static_cast<std::size_t>(sweep)].tool); }

  // The place of a sweep nearest to a point; nothing for one without travel.
  std::optional<Pass> At(int sweep, const Vector3d& p_S) const {
    const auto n = static_cast<std::size_t>(sweep);
    const sim::ToolTrack& track = run_.track;
    const double lift_mm = tip_ball_mm_[ToolOf(sweep)];
    const Vector3d from = track.p_ST[n] + lift_mm * track.axis_S[n];
    const Vector3d travel = track.p_ST[n + 1] + lift_mm * track.axis_S[n + 1] - from;
    const double length = travel.norm();
    if (length < 1e-9) return std::nullopt;
    const double part = std::clamp(travel.dot(p_S - from) / (length * length), 0.0, 1.0);
    return Pass{from + part * travel, travel / length, way_mm_[n] + part * (way_mm_[n + 1] - way_mm_[n])};
  }

  // The way between two places of one pass is about their distance; between two passes
  // the tool has gone a longer way.
  static bool OnePass(const Pass& a, const Pass& b) {
    return std::abs(a.way_mm - b.way_mm) <= 2.0 * (a.p_S - b.p_S).norm() + 1e-6;
  }

  bool OnePass(int a, int b, const Vector3d& p_S) const {
    if (a == b) return true;
    const auto first = At(a, p_S), second = At(b, p_S);
    return first && second && OnePass(*first, *second);
  }

 private:
  const sim::Run& run_;
  std::vector<double> way_mm_;
  std::vector<double> tip_ball_mm_;
};

class RidgeSearch {
 public:
  explicit RidgeSearch(const CheckInputs& in)
      : in_(in), passes_(in.run),
        link_mm_(in.run.sample_spacing_mm > 0.0 ? kLink * in.run.sample_spacing_mm : LinkOf(in.run.samples)),
        members_(Members(in)), near_(PlacesOf(in, members_), std::max(link_mm_, 1e-6)) {}

  std::vector<Ridge> Find() const {
    std::vector<Ridge> ridges;
    for (const int i : members_) {
      if (auto ridge = At(i)) ridges.push_back(*ridge);
    }
    return ridges;
  }

 private:
  static std::vector<int> Members(const CheckInputs& in) {
    std::vector<int> members;
    const auto sweeps = static_cast<int>(in.run.track.sweeps.size());
    for (std::size_t i = 0; i < in.run.samples.size(); ++i) {
      const int sweep = in.run.depths[i].sweep;
      const bool carve = in.run.samples[i].role == sim::DesignSample::Role::kCarve;
      const bool known = in.deviation.knowledge[i] == Knowledge::kKnown && !in.run.depths[i].cut_through;
      if (carve && known && sweep >= 0 && sweep < sweeps) members.push_back(static_cast<int>(i));
    }
    return members;
  }

  static std::vector<Vector3d> PlacesOf(const CheckInputs& in, const std::vector<int>& members) {
    std::vector<Vector3d> places;
    for (const int i : members) places.push_back(in.run.samples[static_cast<std::size_t>(i)].ray.p_SQ);
    return places;
  }

  // Calls visit(sample) for every neighbour of a sample but itself.
  template <typename Visit>
  void ForNear(int sample, const Visit& visit) const {
    near_.ForNear(PlaceOf(sample), [&](int n) {
      const int other = members_[static_cast<std::size_t>(n)];
      if (other != sample) visit(other);
    });
  }

  double ErrorOf(int sample) const { return in_.deviation.error_mm[static_cast<std::size_t>(sample)]; }
  const Vector3d& PlaceOf(int sample) const { return in_.run.samples[static_cast<std::size_t>(sample)].ray.p_SQ; }
  int SweepOf(int sample) const { return in_.run.depths[static_cast<std::size_t>(sample)].sweep; }

  // The highest ridge at a sample that is the higher one of a pair.
  std::optional<Ridge> At(int i) const {
    std::optional<Ridge> best;
    ForNear(i, [&](int j) {
      if (ErrorOf(j) > ErrorOf(i) || (ErrorOf(j) == ErrorOf(i) && j < i) || SweepOf(i) == SweepOf(j)) return;
      const auto ridge = Between(i, j);
      if (ridge && (!best || ridge->height_mm > best->height_mm)) best = ridge;
    });
    return best;
  }

  std::optional<Ridge> Between(int i, int j) const {
    const int a = SweepOf(i), b = SweepOf(j);
    if (passes_.ToolOf(a) != passes_.ToolOf(b)) return std::nullopt;
    const auto first = passes_.At(a, PlaceOf(i)), second = passes_.At(b, PlaceOf(j));
    constexpr double kParallel = 0.9;   // cosine: passes side by side run along each other, either way
    if (!first || !second || std::abs(first->feed_S.dot(second->feed_S)) < kParallel) return std::nullopt;
    if (Passes::OnePass(*first, *second)) return std::nullopt;
    Vector3d across = second->p_S - first->p_S;
    across -= across.dot(first->feed_S) * first->feed_S;
    Ridge ridge;
    ridge.sample = i;
    ridge.sweep = a, ridge.other_sweep = b;
    ridge.apart_mm = across.norm();
    ridge.first_S = first->p_S, ridge.second_S = first->p_S + across, ridge.feed_S = first->feed_S;
    if (!RidgeHeight(passes_.CutterOf(a), ridge.apart_mm)) return std::nullopt;
    Measure(j, ridge);
    return ridge;
  }

  // Height above the floors beside it, and what may stand between the samples.
  void Measure(int j, Ridge& ridge) const {
    const int i = ridge.sample;
    const sim::DepthRay& ray = in_.run.samples[static_cast<std::size_t>(i)].ray;
    const Vector3d off = 0.5 * (ridge.first_S + ridge.second_S) - ray.p_SQ;
    const Vector3d across = (ridge.second_S - ridge.first_S).normalized();
    const Vector3d normal = off - off.dot(across) * across - off.dot(ridge.feed_S) * ridge.feed_S;
    // Along the ray a ridge on a slope is higher than along the normal.
    const double lean = normal.norm() > 1e-9 ? std::abs(normal.normalized().dot(ray.up_S)) : 1.0;
    const double floor = std::max(FloorFrom(i, ridge.apart_mm), FloorFrom(j, ridge.apart_mm));
    ridge.height_mm = std::max(0.0, ErrorOf(i) - floor) * lean;
    const sim::Cutter& cutter = passes_.CutterOf(ridge.sweep);
    const double gap_mm = (PlaceOf(i) - PlaceOf(j)).norm();
    // Of two samples one is at most half their distance from the ridge; of its floor a
    // pass shows a sample at most a link's half, or half a stepover, off.
    ridge.hidden_mm = 0.5 * gap_mm * FlankSlope(cutter, ridge.apart_mm) +
                      RidgeHeight(cutter, std::min(ridge.apart_mm, link_mm_)).value_or(0.0);
  }

  // Downhill over samples of the same pass, no farther than the next pass is.
  double FloorFrom(int from, double within_mm) const {
    int lowest = from;
    for (bool falls = true; falls;) {
      falls = false;
      const int at = lowest;
      ForNear(at, [&](int j) {
        if (!(ErrorOf(j) < ErrorOf(lowest)) || (PlaceOf(j) - PlaceOf(from)).norm() > within_mm) return;
        if (!passes_.OnePass(SweepOf(from), SweepOf(j), PlaceOf(j))) return;
        lowest = j;
        falls = true;
      });
    }
    return ErrorOf(lowest);
  }

  const CheckInputs& in_;
  const Passes passes_;
  const double link_mm_;
  const std::vector<int> members_;
  const NeighbourCells near_;
};

// A surface whose distances tell how high the design is; null: take it as flat.
const sim::MeshIndex* SurfaceOf(const sim::Design& design, const sim::Job& job) {
  if (design.mesh_S) return design.mesh_S.get();
  return design.depth_below_stock_mm ? job.stock_S.get() : nullptr;
}

}  // namespace

std::optional<double> RidgeHeight(const sim::Cutter& cutter, double apart_mm) {
  const double half = 0.5 * apart_mm, ball_mm = TipBall(cutter);
  if (!(half < cutter.radius_mm())) return std::nullopt;
  if (half < ball_mm) {
    // Where a cone begins below the ball's equator the outline is what is wider.
    const double on_ball = ball_mm - std::sqrt(ball_mm * ball_mm - half * half);
    if (cutter.RadiusAt(on_ball) <= half + 1e-9) return on_ball;
  }
  return OutlineHeight(cutter, half);
}

std::vector<Ridge> FindRidges(const CheckInputs& in) {
  if (in.run.samples.empty()) return {};
  return RidgeSearch(in).Find();
}

double PredictedHeight(const CheckInputs& in, const Ridge& ridge) {
  const sim::ToolTrack& track = in.run.track;
  const auto tool = static_cast<std::size_t>(track.sweeps[static_cast<std::size_t>(ridge.sweep)].tool);
  const sim::Cutter& cutter = track.tools[tool].cutter;
  const double flat_mm = RidgeHeight(cutter, ridge.apart_mm).value_or(0.0);
  const double ball_mm = TipBall(cutter), half = 0.5 * ridge.apart_mm;
  const sim::MeshIndex* surface = SurfaceOf(in.job.design, in.job);
  if (surface == nullptr || !(half < ball_mm)) return flat_mm;
  const Vector3d middle = 0.5 * (ridge.first_S + ridge.second_S);
  const Vector3d across = (ridge.second_S - ridge.first_S).normalized();
  Vector3d out = middle - in.run.samples[static_cast<std::size_t>(ridge.sample)].ray.p_SQ;
  out -= out.dot(across) * across + out.dot(ridge.feed_S) * ridge.feed_S;
  if (out.norm() < 1e-9) return flat_mm;
  const Vector3d top = middle - std::sqrt(ball_mm * ball_mm - half * half) * out.normalized();
  const double floor = std::max(surface->SignedDistance(ridge.first_S), surface->SignedDistance(ridge.second_S)) - ball_mm;
  return surface->SignedDistance(top) - floor;
}

}  // namespace aircut::verify
