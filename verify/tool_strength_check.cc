#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/tool_stress.h"
#include "verify/load_support.h"
#include "verify/process_band.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using sim::SweepLoad;

// Of the strength, that a peak may use: domain notes A28 (engineering judgement, no source).
constexpr double kUsable = 1.0 / 3.0;

// The peak force, across the tool's axis and along it.
Eigen::Vector2d PeakOf(const CheckInputs& in, const SweepLoad& load, sim::BandEnd end) {
  const Eigen::Vector3d axis = in.run.track.axis_S[static_cast<std::size_t>(load.sweep)];
  const Eigen::Vector3d force = load.peak_S_n[end].cast<double>();
  const double along = force.dot(axis);
  return {(force - along * axis).norm(), std::abs(along)};
}

sim::ToolStress StressAt(const CheckInputs& in, const SweepLoad& load, sim::BandEnd end, double shorter_mm = 0.0) {
  const sim::CellCutter& cutter = *CutterOf(in, load);
  return sim::StressOf(cutter, PeakOf(in, load, end), load.height_mm, cutter.measured_stick_out_mm - shorter_mm);
}

BandedValue ValueOf(const CheckInputs& in, const SweepLoad& load) {
  const sim::CellCutter& cutter = *CutterOf(in, load);
  BandedValue v;
  v.least = StressAt(in, load, sim::kLeast).stress_mpa;
  v.nominal = StressAt(in, load, sim::kNominal).stress_mpa;
  v.most = StressAt(in, load, sim::kMost).stress_mpa;
  v.limit_low = kUsable * cutter.strength_mpa.value_or(kStrengthBand.low);
  v.limit_high = kUsable * cutter.strength_mpa.value_or(kStrengthBand.high);
  return v;
}

// Stress at the bad end over what it may be.
double RatioOf(const CheckInputs& in, const SweepLoad& load) {
  const double low = CutterOf(in, load)->strength_mpa.value_or(kStrengthBand.low);
  return StressAt(in, load, sim::kMost).stress_mpa / (kUsable * low);
}

// How much shorter the cutter would have to stand out, where that alone helps.
std::optional<double> Shorter_mm(const CheckInputs& in, const SweepLoad& load, double limit_mpa) {
  const sim::CellCutter& cutter = *CutterOf(in, load);
  const double most_mm = cutter.measured_stick_out_mm - cutter.cutter.flute_length_mm();
  constexpr double kStep_mm = 0.5;
  for (double shorter = kStep_mm; shorter <= most_mm; shorter += kStep_mm) {
    if (StressAt(in, load, sim::kMost, shorter).stress_mpa <= limit_mpa) return shorter;
  }
  return std::nullopt;
}

std::string Advice(const CheckInputs& in, const SweepLoad& worst, double limit_mpa) {
  std::vector<std::pair<double, std::size_t>> over;
  for (const SweepLoad& load : in.run.load.sweeps) {
    const double ratio = RatioOf(in, load);
    if (!(ratio <= 1.0)) over.emplace_back(ratio, static_cast<std::size_t>(load.sweep));
  }
  std::stable_sort(over.begin(), over.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<std::size_t> sweeps;
  for (const auto& [ratio, sweep] : over) sweeps.push_back(sweep);
  const auto holds = [&](const SweepLoad& load) { return RatioOf(in, load) <= 1.0; };
  std::vector<std::string> ways;
  if (const auto feed = LargestFactor(in, sweeps, FeedBy, holds)) {
    ways.push_back(fmt::format("a feed of {:.0f} %", 100.0 * *feed));
  }
  if (const auto depth = LargestFactor(in, sweeps, DepthBy, holds)) {
    ways.push_back(fmt::format("{:.0f} % of the depth per pass", 100.0 * *depth));
  }
  if (const auto shorter = Shorter_mm(in, worst, limit_mpa)) {
    ways.push_back(fmt::format("a stick-out of {} in place of {}",
                               Millimetres(CutterOf(in, worst)->measured_stick_out_mm - *shorter),
                               Millimetres(CutterOf(in, worst)->measured_stick_out_mm)));
  }
  if (ways.empty()) return "";
  std::string text = " At the bad end of the band passes " + ways[0];
  for (std::size_t i = 1; i < ways.size(); ++i) text += ", or " + ways[i];
  return text + ".";
}

const SweepLoad* WorstOf(const CheckInputs& in) {
  const SweepLoad* worst = nullptr;
  double worst_ratio = -1.0;
  for (const SweepLoad& load : in.run.load.sweeps) {
    if (CutterOf(in, load) == nullptr) continue;
    const double ratio = RatioOf(in, load);
    if (worst != nullptr && ratio <= worst_ratio) continue;
    worst = &load;
    worst_ratio = ratio;
  }
  return worst;
}

std::string WhyOf(const CheckInputs& in, const SweepLoad& worst, const BandedValue& v) {
  const sim::CellCutter& cutter = *CutterOf(in, worst);
  const sim::ToolStress at = StressAt(in, worst, sim::kMost);
  const int line = in.run.track.sweeps[static_cast<std::size_t>(worst.sweep)].line;
  const std::string strength = cutter.strength_mpa ? "" : fmt::format(", {:g} to {:g} MPa ({}),", kStrengthBand.low,
                                                                      kStrengthBand.high, kStrengthBand.source);
  return fmt::format("At {} a peak of {:.3g} N ({:.3g} N at the bad end) bends cutter {} to {:.3g} MPa, {} above its tip where "
                     "{} carry; a third of its strength{} is {:.3g} MPa.", Lines(line, line),
                     worst.peak_S_n[sim::kNominal].norm(), worst.peak_S_n[sim::kMost].norm(), cutter.number, v.nominal,
                     Millimetres(at.at_mm), Millimetres(at.diameter_mm), strength, v.limit_low);
}

}  // namespace

CheckResult CheckToolStrength(const CheckInputs& in) {
  if (auto none = NoForces(in)) return *none;
  const SweepLoad* worst = WorstOf(in);
  if (worst == nullptr) return Unproven("No cutter of the cell cuts.", {"a path that cuts with a cutter of the cell"});
  const BandedValue v = ValueOf(in, *worst);
  const sim::CellCutter& cutter = *CutterOf(in, *worst);
  CheckResult r = MeasuredBand(v, "MPa");
  r.assumed = !cutter.strength_mpa || !in.run.load.force->assumed.empty();
  const int line = in.run.track.sweeps[static_cast<std::size_t>(worst->sweep)].line;
  r.where = Lines(line, line);
  r.why = WhyOf(in, *worst, v);
  if (r.result == Result::kPass) return NeedsFollowing(r, in.run);
  r.why += Advice(in, *worst, v.limit_low);
  if (r.result == Result::kUnproven) {
    if (!cutter.strength_mpa) r.needs.push_back(fmt::format("`cutters.{}.strength_mpa`", cutter.number));
    r.needs.push_back(NarrowerForces(in));
    return r;
  }
  Finding f = FindingAt(in, *worst);
  f.value = v.nominal;
  f.limit = v.limit_low;
  f.unit = "MPa";
  f.text = r.why;
  f.cause = "the cut is too heavy for a cutter as slender as this";
  r.findings = {f};
  return r;
}

}  // namespace aircut::verify
