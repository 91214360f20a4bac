// Steps of height between passes side by side.
#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "verify/cross_lines.h"
#include "verify/fine_measures.h"
#include "verify/patches.h"
#include "verify/ridges.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

constexpr std::size_t kMostLines = 300;

// The largest step that samples show in each cube of one cutter radius, largest first.
std::vector<Ridge> Candidates(const CheckInputs& in) {
  std::map<std::array<long, 3>, Ridge> cells;
  for (const Ridge& r : FindSteps(in)) {
    const auto tool = static_cast<std::size_t>(in.run.track.sweeps[static_cast<std::size_t>(r.sweep)].tool);
    const double edge_mm = in.run.track.tools[tool].cutter.radius_mm();
    const Vector3d& p = in.run.samples[static_cast<std::size_t>(r.sample)].ray.p_SQ;
    const auto cell = [edge_mm](double x) { return std::lround(std::floor(x / edge_mm)); };
    const auto [at, added] = cells.try_emplace({cell(p.x()), cell(p.y()), cell(p.z())}, r);
    if (!added && r.step_mm > at->second.step_mm) at->second = r;
  }
  std::vector<Ridge> largest;
  for (const auto& [cell, ridge] : cells) largest.push_back(ridge);
  std::stable_sort(largest.begin(), largest.end(), [](const Ridge& a, const Ridge& b) { return a.step_mm > b.step_mm; });
  return largest;
}

PassStep StepOf(const CheckInputs& in, const CrossPair& pair) {
  const auto line = [&](int sweep) { return in.run.track.sweeps[static_cast<std::size_t>(sweep)].line; };
  const auto tool = [&](int sweep) {
    return in.run.track.tools[static_cast<std::size_t>(in.run.track.sweeps[static_cast<std::size_t>(sweep)].tool)].number;
  };
  return {pair.step_mm, pair.step_bound_mm, pair.p_S, {line(pair.high_sweep), line(pair.low_sweep)},
          {tool(pair.high_sweep), tool(pair.low_sweep)}};
}

// The largest step on a line.
const CrossPair* LargestOf(const std::vector<CrossPair>& pairs) {
  const CrossPair* largest = nullptr;
  for (const CrossPair& pair : pairs) {
    const bool measured = pair.step_bound_mm > 0.0;
    if (measured && (largest == nullptr || pair.step_mm > largest->step_mm)) largest = &pair;
  }
  return largest;
}

}  // namespace

PassSteps MeasurePassSteps(const CheckInputs& in) {
  PassSteps steps;
  // A quarter of what depth may err, as for corners and cutters.
  steps.limit_mm = in.job.accept.depth_mm.value / 4.0;
  if (in.job.stock_S == nullptr) return steps;
  std::vector<Ridge> candidates = Candidates(in);
  if (candidates.size() > kMostLines) candidates.resize(kMostLines);
  std::vector<CrossPlace> places;
  const double spacing_mm = in.run.sample_spacing_mm > 0.0 ? in.run.sample_spacing_mm : LinkOf(in.run.samples);
  for (const Ridge& r : candidates) {
    if (r.apart_mm < 1e-6) continue;
    places.push_back({r.sample, r.second_S - r.first_S, 1.5 * r.apart_mm + spacing_mm, r.apart_mm / kRaysAcross});
  }
  for (const std::vector<CrossPair>& pairs : MeasureAcross(in, places)) {
    const CrossPair* pair = LargestOf(pairs);
    if (pair == nullptr) continue;
    ++steps.places;
    const PassStep step = StepOf(in, *pair);
    if (!steps.largest || step.height_mm > steps.largest->height_mm) steps.largest = step;
    if (step.height_mm - step.bound_mm > steps.limit_mm) steps.steps.push_back(step);
  }
  std::stable_sort(steps.steps.begin(), steps.steps.end(), [](const PassStep& a, const PassStep& b) { return a.height_mm > b.height_mm; });
  return steps;
}

}  // namespace aircut::verify
