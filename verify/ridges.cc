#include "verify/ridges.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "verify/neighbour_cells.h"
#include "verify/patches.h"
#include "verify/track_passes.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

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

// What is looked for between two passes.
enum class Wanted { kRidges, kSteps };

class RidgeSearch {
 public:
  RidgeSearch(const CheckInputs& in, Wanted wanted)
      : in_(in), wanted_(wanted), passes_(in.run.track),
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
      const auto size = [this](const Ridge& r) { return wanted_ == Wanted::kRidges ? r.height_mm : r.step_mm; };
      if (ridge && (!best || size(*ridge) > size(*best))) best = ridge;
    });
    return best;
  }

  std::optional<Ridge> Between(int i, int j) const {
    const int a = SweepOf(i), b = SweepOf(j);
    const bool one_cutter = passes_.ToolOf(a) == passes_.ToolOf(b);
    if (!one_cutter && wanted_ == Wanted::kRidges) return std::nullopt;
    const auto first = passes_.At(a, PlaceOf(i)), second = passes_.At(b, PlaceOf(j));
    if (!first || !second || !TrackPasses::SideBySide(*first, *second)) return std::nullopt;
    Vector3d across = second->p_S - first->p_S;
    across -= across.dot(first->feed_S) * first->feed_S;
    Ridge ridge;
    ridge.sample = i;
    ridge.sweep = a, ridge.other_sweep = b;
    ridge.apart_mm = across.norm();
    ridge.first_S = first->p_S, ridge.second_S = first->p_S + across, ridge.feed_S = first->feed_S;
    const bool overlap = one_cutter ? RidgeHeight(passes_.CutterOf(a), ridge.apart_mm).has_value()
                                    : ridge.apart_mm < passes_.CutterOf(a).radius_mm() + passes_.CutterOf(b).radius_mm();
    if (!overlap) return std::nullopt;
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
    const double floor_i = FloorFrom(i, ridge.apart_mm), floor_j = FloorFrom(j, ridge.apart_mm);
    ridge.height_mm = std::max(0.0, ErrorOf(i) - std::max(floor_i, floor_j)) * lean;
    ridge.step_mm = std::abs(floor_i - floor_j) * lean;
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
  Wanted wanted_;
  const TrackPasses passes_;
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
  const double half = 0.5 * apart_mm, ball_mm = TipBallRadius_mm(cutter);
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
  return RidgeSearch(in, Wanted::kRidges).Find();
}

std::vector<Ridge> FindSteps(const CheckInputs& in) {
  if (in.run.samples.empty()) return {};
  return RidgeSearch(in, Wanted::kSteps).Find();
}

double PredictedHeight(const CheckInputs& in, const Ridge& ridge) {
  const sim::ToolTrack& track = in.run.track;
  const auto tool = static_cast<std::size_t>(track.sweeps[static_cast<std::size_t>(ridge.sweep)].tool);
  const sim::Cutter& cutter = track.tools[tool].cutter;
  const double flat_mm = RidgeHeight(cutter, ridge.apart_mm).value_or(0.0);
  const double ball_mm = TipBallRadius_mm(cutter), half = 0.5 * ridge.apart_mm;
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
