#include "sim/executed_loop.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/corner_shift.h"
#include "sim/displacement.h"
#include "sim/spindle_rates.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using Shifts = std::vector<Vector3d>;

constexpr double kSettledShare = 0.1;      // of the depth tolerance. Source: design, section 3
constexpr double kLeastStep = 0.05;        // of a residual: a secant of noise must not stop the search
constexpr double kPercentile = 0.95;

double Percentile95(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto at = static_cast<std::ptrdiff_t>(std::ceil(kPercentile * static_cast<double>(values.size()))) - 1;
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

bool Carves(const Run& run, std::size_t sample) { return run.samples[sample].role == DesignSample::Role::kCarve; }

// What the depth map moved between two cuts.
double Moved_mm(const Run& run, const std::vector<RayDepth>& before, const std::vector<RayDepth>& after) {
  std::vector<double> moved;
  for (std::size_t i = 0; i < after.size(); ++i) {
    if (!Carves(run, i) || !after[i].has_material) continue;
    const double gap = std::abs(after[i].top_mm - before[i].top_mm);
    if (std::isfinite(gap)) moved.push_back(gap);
  }
  return Percentile95(std::move(moved));
}

// What the displacements asked for differ from those cut with, where they decide a depth.
double Open_mm(const Run& run, const std::vector<RayDepth>& depths, const Shifts& open) {
  std::vector<double> left;
  for (std::size_t i = 0; i < depths.size(); ++i) {
    if (!Carves(run, i) || depths[i].sweep < 0) continue;
    left.push_back(std::abs(open[static_cast<std::size_t>(depths[i].sweep)].dot(run.samples[i].ray.up_S)));
  }
  return Percentile95(std::move(left));
}

bool AnyMoves(const Shifts& shifts) {
  return std::any_of(shifts.begin(), shifts.end(), [](const Vector3d& d) { return d.squaredNorm() > 0.0; });
}

// One cut of the loop: with a displaced tool, what it makes and what it asks for.
class Loop {
 public:
  Loop(const Job& job, const RunOptions& options, const Run& run, const std::vector<DepthRay>& rays)
      : job_(job), options_(options), run_(run), rays_(rays), rates_(SpindleRatesOf(job, run)) {}

  ExecutedCut Go() {
    Displacements asked = Ask(run_.load);
    Shifts target = SumOf(asked.layers, kNominal);
    ExecutedCut now;
    now.execution = Told(asked);
    if (!AnyMoves(target) && !now.execution.corner_rounding) return now;
    now.depths = CutRays(*job_.stock_S, run_.track, rays_, kFaceSlack_mm, options_.threads);
    if (!AnyMoves(target)) {
      const Shifts still(run_.track.sweeps.size(), Vector3d::Zero());
      if (Largest_mm(*now.execution.corner_rounding, now.depths) > now.execution.settled_mm) HoldLargest(still, now);
      return now;
    }
    for (const RayDepth& depth : now.depths) now.execution.nominal_top_mm.push_back(depth.top_mm);
    Shifts residual = target;
    std::vector<double> step = FirstSteps(target);
    Shifts shift(target.size(), Vector3d::Zero());
    do {
      for (std::size_t s = 0; s < shift.size(); ++s) shift[s] += step[s] * residual[s];
      const std::vector<RayDepth> before = std::move(now.depths);
      CutOnce(shift, now);
      asked = Ask(now.load);
      target = SumOf(asked.layers, kNominal);
      Take(asked, now.execution);
      NextSteps(target, shift, residual, step);
      Settle(before, residual, now);
    } while (!now.execution.settled && now.execution.cuts <= kMostRecuts);
    HoldLargest(shift, now);
    return now;
  }

 private:
  Displacements Ask(const CuttingLoad& load) const {
    return ComputeDisplacements({job_, run_.motion.tracks[0], run_.track, load, run_.X_WS_actual, options_.without,
                                 options_.threads});
  }
  Execution Told(const Displacements& asked) const {
    Execution execution;
    execution.layers = asked.layers;
    execution.missing = asked.missing;
    execution.without = options_.without;
    execution.corner_rounding = CornerRoundingOf(job_, run_.motion, run_.X_WS_actual);
    execution.settled_mm = kSettledShare * job_.accept.depth_mm.value;
    return execution;
  }
  static void Take(const Displacements& asked, Execution& execution) {
    execution.layers = asked.layers;
    execution.missing = asked.missing;
  }

  // A force that grows with the depth of its bite lets go as the tool is pushed off.
  std::vector<double> FirstSteps(const Shifts& target) const {
    std::vector<double> step(target.size(), 1.0);
    for (const SweepLoad& load : run_.load.sweeps) {
      const auto s = static_cast<std::size_t>(load.sweep);
      const double off_mm = target[s].dot(run_.track.axis_S[s + 1]);
      if (off_mm > 0.0 && load.depth_mm > 0.0F) step[s] = 1.0 / (1.0 + off_mm / load.depth_mm);
    }
    return step;
  }

  // Aitken: where the residual would vanish if it went on as between the last two shifts.
  static void NextSteps(const Shifts& target, const Shifts& shift, Shifts& residual, std::vector<double>& step) {
    for (std::size_t s = 0; s < shift.size(); ++s) {
      const Vector3d now = target[s] - shift[s];
      const Vector3d change = now - residual[s];
      const double square = change.squaredNorm();
      const double secant = square > 0.0 ? -step[s] * residual[s].dot(change) / square : 1.0;
      step[s] = std::clamp(secant, kLeastStep, 1.0);
      residual[s] = now;
    }
  }

  void CutOnce(const Shifts& shift, ExecutedCut& now) const {
    now.track = Displaced(run_.track, shift);
    CutOptions cut;
    cut.voxel_mm = options_.resolution_mm;
    cut.threads = options_.threads;
    now.cut = CutGrid(job_.stock_S, now.track, cut);
    now.load = ComputeCuttingLoad({now.track, now.cut.contact, rates_, run_.load.force, options_.threads});
    now.depths = CutRays(*job_.stock_S, now.track, rays_, kFaceSlack_mm, options_.threads);
    ++now.execution.cuts;
  }

  void Settle(const std::vector<RayDepth>& before, const Shifts& open, ExecutedCut& now) const {
    Execution& execution = now.execution;
    // The first displaced cut moves the map by all that the layers do: what it leaves open counts.
    const double open_mm = Open_mm(run_, now.depths, open);
    execution.moved_mm = execution.cuts > 2 ? std::max(open_mm, Moved_mm(run_, before, now.depths)) : open_mm;
    execution.settled = execution.moved_mm <= execution.settled_mm;
  }

  double MeanAlong(const LayerShift& layer, const std::vector<RayDepth>& depths) const {
    double sum = 0.0;
    int count = 0;
    for (std::size_t i = 0; i < depths.size(); ++i) {
      if (!Carves(run_, i) || depths[i].sweep < 0) continue;
      sum += layer.of_sweep[static_cast<std::size_t>(depths[i].sweep)][kNominal].cast<double>().dot(run_.samples[i].ray.up_S);
      ++count;
    }
    return count > 0 ? sum / count : 0.0;
  }

  double Largest_mm(const LayerShift& layer, const std::vector<RayDepth>& depths) const {
    double largest_mm = 0.0;
    for (std::size_t i = 0; i < depths.size(); ++i) {
      if (!Carves(run_, i) || depths[i].sweep < 0) continue;
      const Vector3d d = layer.of_sweep[static_cast<std::size_t>(depths[i].sweep)][kNominal].cast<double>();
      largest_mm = std::max(largest_mm, std::abs(d.dot(run_.samples[i].ray.up_S)));
    }
    return largest_mm;
  }

  const LayerShift* LargestLayer(const ExecutedCut& now) const {
    const LayerShift* largest = now.execution.corner_rounding ? &*now.execution.corner_rounding : nullptr;
    for (const LayerShift& layer : now.execution.layers) {
      const bool larger = largest == nullptr ||
                          std::abs(MeanAlong(layer, now.depths)) > std::abs(MeanAlong(*largest, now.depths));
      if (larger) largest = &layer;
    }
    return largest;
  }

  // First order is an estimate: the largest layer is taken away and cut once more.
  void HoldLargest(const Shifts& shift, ExecutedCut& now) const {
    const LayerShift* largest = LargestLayer(now);
    if (largest == nullptr) return;
    Shifts rest = shift;
    for (std::size_t s = 0; s < rest.size(); ++s) rest[s] -= largest->of_sweep[s][kNominal].cast<double>();
    const auto depths = CutRays(*job_.stock_S, Displaced(run_.track, rest), rays_, kFaceSlack_mm, options_.threads);
    double sum = 0.0;
    int count = 0;
    for (std::size_t i = 0; i < depths.size(); ++i) {
      const double gap = now.depths[i].top_mm - depths[i].top_mm;
      if (!Carves(run_, i) || now.depths[i].sweep < 0 || !std::isfinite(gap)) continue;
      sum += gap;
      ++count;
    }
    now.execution.recuts.push_back({largest->layer, MeanAlong(*largest, now.depths), count > 0 ? sum / count : 0.0});
  }

  const Job& job_;
  const RunOptions& options_;
  const Run& run_;
  const std::vector<DepthRay>& rays_;
  SpindleRates rates_;
};

}  // namespace

ExecutedCut CutAsExecuted(const Job& job, const RunOptions& options, const Run& run,
                          const std::vector<DepthRay>& rays) {
  return Loop(job, options, run, rays).Go();
}

}  // namespace aircut::sim
