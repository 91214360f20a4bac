#include "verify/layer_shares.h"

#include <algorithm>
#include <cmath>

namespace aircut::verify {
namespace {

using sim::BandEnd;
using sim::ErrorLayer;

constexpr double kShare = 0.95;

struct Weighted {
  double value = 0, area_mm2 = 0;
};

double Along(const sim::LayerShift& layer, std::size_t sweep, const Eigen::Vector3d& up_S, BandEnd end) {
  return layer.of_sweep[sweep][end].cast<double>().dot(up_S);
}

std::vector<Weighted> SharesOf(const sim::Run& run, const sim::LayerShift& layer) {
  std::vector<Weighted> shares;
  for (std::size_t i = 0; i < run.depths.size(); ++i) {
    const sim::DesignSample& sample = run.samples[i];
    if (sample.role != sim::DesignSample::Role::kCarve || run.depths[i].sweep < 0) continue;
    const auto sweep = static_cast<std::size_t>(run.depths[i].sweep);
    shares.push_back({Along(layer, sweep, sample.ray.up_S, sim::kNominal), sample.area_mm2});
  }
  return shares;
}

// The value, with its sign, below whose magnitude 95 % of the area lies.
LayerShare ShareOf(const sim::Run& run, const sim::LayerShift& layer) {
  LayerShare share{layer.layer, 0.0, 0.0};
  std::vector<Weighted> values = SharesOf(run, layer);
  std::stable_sort(values.begin(), values.end(),
                   [](const Weighted& a, const Weighted& b) { return std::abs(a.value) < std::abs(b.value); });
  double area = 0.0, sum = 0.0, below = 0.0;
  for (const Weighted& w : values) {
    area += w.area_mm2;
    sum += w.value * w.area_mm2;
  }
  for (const Weighted& w : values) {
    below += w.area_mm2;
    share.signed_mm_p95 = w.value;
    if (below >= kShare * area) break;
  }
  share.mean_mm = area > 0.0 ? sum / area : 0.0;
  return share;
}

}  // namespace

std::vector<LayerShare> LayerSharesOf(const sim::Run& run) {
  std::vector<LayerShare> shares;
  if (!run.execution.displaced()) return shares;
  for (const sim::LayerShift& layer : run.execution.layers) shares.push_back(ShareOf(run, layer));
  return shares;
}

double ShiftAlong::largest() const { return std::max(std::abs(low), std::abs(high)); }

double ShiftAlong::smallest() const { return (low > 0) == (high > 0) ? std::min(std::abs(low), std::abs(high)) : 0.0; }

ShiftAlong ShiftOf(const sim::Execution& execution, std::size_t sweep, const Eigen::Vector3d& up_S,
                   const std::vector<ErrorLayer>& of) {
  ShiftAlong shift;
  for (const ErrorLayer layer : of) {
    const sim::LayerShift* found = execution.Of(layer);
    if (found == nullptr) continue;
    const double least = Along(*found, sweep, up_S, sim::kLeast), most = Along(*found, sweep, up_S, sim::kMost);
    const double nominal = Along(*found, sweep, up_S, sim::kNominal);
    shift.low += std::min({least, nominal, most});
    shift.nominal += nominal;
    shift.high += std::max({least, nominal, most});
  }
  return shift;
}

std::vector<double> DeflectionOfSweeps_mm(const sim::Run& run) {
  std::vector<double> bent_mm;
  if (!run.load.force) return bent_mm;
  bent_mm.assign(run.load.of_sweep.size(), 0.0);
  const std::vector<ErrorLayer> springs(kSprings.begin(), kSprings.end());
  for (std::size_t i = 0; i < run.depths.size(); ++i) {
    const sim::DesignSample& sample = run.samples[i];
    if (sample.role != sim::DesignSample::Role::kCarve || run.depths[i].sweep < 0) continue;
    const auto sweep = static_cast<std::size_t>(run.depths[i].sweep);
    if (run.load.Of(sweep) == nullptr) continue;
    bent_mm[sweep] = std::max(bent_mm[sweep], ShiftOf(run.execution, sweep, sample.ray.up_S, springs).largest());
  }
  return bent_mm;
}

std::vector<double> OpenDepths_mm(const sim::Run& run) {
  std::vector<double> open_mm;
  if (!run.execution.displaced()) return open_mm;
  open_mm.assign(run.samples.size(), 0.0);
  const std::vector<ErrorLayer> all(sim::kErrorLayers.begin(), sim::kErrorLayers.end());
  for (std::size_t i = 0; i < open_mm.size(); ++i) {
    if (run.depths[i].sweep < 0) continue;
    const ShiftAlong shift = ShiftOf(run.execution, static_cast<std::size_t>(run.depths[i].sweep), run.samples[i].ray.up_S, all);
    open_mm[i] = std::max(shift.high - shift.nominal, shift.nominal - shift.low);
  }
  return open_mm;
}

}  // namespace aircut::verify
