#include "sim/unreachable.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/region_limits.h"
#include "sim/triangle_samples.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kTouch_mm = 0.01;
constexpr int kMostSteps = 40;

// Balls of one radius about the design, and what they leave standing on one ray.
class BallReach {
 public:
  BallReach(const MeshIndex& design_S, double radius_mm, const DepthRay& ray)
      : design_S_(design_S), radius_mm_(radius_mm), ray_(ray) {}

  // A centre near `centre` whose ball does not enter the design: pushed away from the
  // nearest face until it touches.
  std::optional<Vector3d> Settled(Vector3d centre) const {
    for (int step = 0; step < kMostSteps; ++step) {
      const double free_mm = design_S_.SignedDistance(centre);
      if (free_mm >= radius_mm_ - kTouch_mm) return centre;
      const Vector3d face = design_S_.ClosestPoint(centre).point;
      const Vector3d away = free_mm > 0.0 ? Vector3d(centre - face) : Vector3d(face - centre);
      const double length = away.norm();
      centre = face + radius_mm_ * (length > 1e-9 ? Vector3d(away / length) : ray_.up_S);
    }
    return std::nullopt;
  }

  // What a ball at a centre leaves standing; infinite where it misses the ray.
  double LeftBy(const Vector3d& centre) const {
    const Vector3d from = ray_.p_SQ - centre;
    const double b = from.dot(ray_.up_S), square = b * b - from.squaredNorm() + radius_mm_ * radius_mm_;
    if (square < 0.0 || -b + std::sqrt(square) < 0.0) return std::numeric_limits<double>::infinity();
    return std::max(0.0, -b - std::sqrt(square));
  }

  // From a ball that fits, down along the ray as far as it goes.
  double Descended(Vector3d centre) const {
    double best = LeftBy(centre);
    for (double step = 0.25 * radius_mm_; step > 1e-3 * radius_mm_ && best > 0.0;) {
      const auto lower = Settled(centre - step * ray_.up_S);
      const double left = lower ? LeftBy(*lower) : best;
      if (left < best - 1e-9) {
        best = left;
        centre = *lower;
      } else {
        step *= 0.5;
      }
    }
    return best;
  }

 private:
  const MeshIndex& design_S_;
  double radius_mm_;
  const DepthRay& ray_;
};

bool Tight(const MeshIndex& design_S, double radius_mm, const DepthRay& ray) {
  const int face = design_S.ClosestPoint(ray.p_SQ).triangle;
  const Vector3d centre = ray.p_SQ + radius_mm * TriangleNormal(design_S.mesh(), face);
  return design_S.SignedDistance(centre) < radius_mm - kTouch_mm;
}

// Carve samples above the leftover limit on which no ball of the radius can rest.
std::vector<std::size_t> TightSamples(const Job& job, const Run& run, double radius_mm) {
  std::vector<char> tight(run.samples.size(), 0);
  tbb::parallel_for(std::size_t{0}, run.samples.size(), [&](std::size_t i) {
    if (run.samples[i].role != DesignSample::Role::kCarve) return;
    const double limit_mm = LimitAt(job.accept, Tolerance::kLeftover, run.samples[i].ray.p_SQ).value_mm;
    if (!(run.depths[i].top_mm > limit_mm)) return;
    tight[i] = Tight(*job.design.mesh_S, radius_mm, run.samples[i].ray) ? 1 : 0;
  });
  std::vector<std::size_t> indices;
  for (std::size_t i = 0; i < tight.size() && indices.size() < kMostOutOfReach; ++i) {
    if (tight[i] != 0) indices.push_back(i);
  }
  return indices;
}

}  // namespace

double LeastNoseRadius_mm(const ToolTrack& track) {
  double least_mm = std::numeric_limits<double>::infinity();
  for (const SweepInfo& sweep : track.sweeps) {
    if (sweep.rapid || sweep.swap) continue;
    least_mm = std::min(least_mm, track.tools[static_cast<std::size_t>(sweep.tool)].cutter.nose_radius_mm());
  }
  return std::isfinite(least_mm) ? least_mm : 0.0;
}

double HeightOutOfReach(const MeshIndex& design_S, double radius_mm, const DepthRay& ray, double most_mm) {
  if (!Tight(design_S, radius_mm, ray)) return 0.0;
  const BallReach reach(design_S, radius_mm, ray);
  const Vector3d normal = TriangleNormal(design_S.mesh(), design_S.ClosestPoint(ray.p_SQ).triangle);
  constexpr int kLifts = 8;
  double best = most_mm;
  for (int lift = 0; lift <= kLifts; ++lift) {
    const double lift_mm = most_mm * lift / kLifts;
    // A ball that starts higher than what is known already does not help.
    if (lift_mm > best) break;
    const auto centre = reach.Settled(ray.p_SQ + lift_mm * ray.up_S + radius_mm * (lift == 0 ? normal : ray.up_S));
    if (centre) best = std::min(best, reach.Descended(*centre));
  }
  return best;
}

std::vector<double> HeightsOutOfReach(const Job& job, const Run& run, int threads) {
  const double radius_mm = LeastNoseRadius_mm(run.track);
  if (!job.design.mesh_S || !(radius_mm > 0.0)) return {};
  std::vector<double> heights(run.samples.size(), 0.0);
  tbb::task_arena arena(threads);
  arena.execute([&] {
    const std::vector<std::size_t> tight = TightSamples(job, run, radius_mm);
    tbb::parallel_for(std::size_t{0}, tight.size(), [&](std::size_t n) {
      const std::size_t i = tight[n];
      const double height = HeightOutOfReach(*job.design.mesh_S, radius_mm, run.samples[i].ray, run.depths[i].top_mm);
      heights[i] = std::max(0.0, height - kDescent_radii * radius_mm);
    });
  });
  return heights;
}

}  // namespace aircut::sim
