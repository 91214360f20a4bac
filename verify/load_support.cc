#include "verify/load_support.h"

#include <cmath>

#include <fmt/format.h>

#include "verify/words.h"

namespace aircut::verify {

std::optional<CheckResult> NoLoad(const CheckInputs& in) {
  const sim::CuttingLoad& load = in.run.load;
  if (load.beyond_model > 0) {
    return Unproven(fmt::format("{} cut in a rapid or with the spindle stopped, for which no load is reckoned.",
                                Plural(static_cast<std::int64_t>(load.beyond_model), "move")),
                    {"cut moves with a feed and a spindle speed in the path"});
  }
  if (load.sweeps.empty()) {
    return Unproven("No move of the path cuts with a turning cutter, so there is no load.",
                    {"a path that cuts, with a spindle speed"});
  }
  return std::nullopt;
}

std::optional<CheckResult> NoForces(const CheckInputs& in) {
  if (auto none = NoLoad(in)) return none;
  if (in.run.load.force) return std::nullopt;
  return Unproven("Nothing says how hard the material is to cut.",
                  {"`material.cutting_force_n_mm2` (and `edge_force_n_mm`), `material.file` of scenes/materials, or "
                   "`material.slot_test`"});
}

const sim::CellCutter* CutterOf(const CheckInputs& in, const sim::SweepLoad& load) {
  const sim::ToolTrack& track = in.run.track;
  const auto tool = static_cast<std::size_t>(track.sweeps[static_cast<std::size_t>(load.sweep)].tool);
  return FindCutter(in.job.cell, track.tools[tool].number);
}

Finding FindingAt(const CheckInputs& in, const sim::SweepLoad& load) {
  const auto sweep = static_cast<std::size_t>(load.sweep);
  Finding f;
  f.line = in.run.track.sweeps[sweep].line;
  f.time_s = TimeOfSweep(in.run, sweep);
  f.at_S = in.run.track.p_ST[sweep + 1];
  return f;
}

Result DecideBand(const BandedValue& v) {
  if (v.most <= v.limit_low) return Result::kPass;
  return v.least > v.limit_high ? Result::kFail : Result::kUnproven;
}

CheckResult MeasuredBand(const BandedValue& v, const std::string& unit) {
  CheckResult result = Measured({v.nominal, v.most - v.nominal, v.limit_low, Sense::kAtMost, unit});
  result.result = DecideBand(v);
  return result;
}

std::string NarrowerForces(const CheckInputs& in) {
  const bool banded = in.job.material && in.job.material->band;
  return banded ? "`material.slot_test`: slots in the very material, or a smaller `material.band` that is known to hold"
                : "`material.slot_test`: slots in the very material, or `material.band`";
}

sim::CutChange FeedBy(double factor) { return {factor, 1.0}; }
sim::CutChange DepthBy(double factor) { return {1.0, factor}; }

std::optional<double> LargestFactor(const CheckInputs& in, const std::vector<std::size_t>& sweeps, ChangeBy change,
                                    const std::function<bool(const sim::SweepLoad&)>& holds) {
  const sim::SpindleRates rates = sim::SpindleRatesOf(in.job, in.run);
  const sim::CuttingLoadTask task{in.run.track, in.run.cut.contact, rates, in.run.load.force, 1};
  const auto at = [&](std::size_t sweep, int percent) {
    const auto load = sim::ChangedLoad(task, sweep, change(0.01 * percent));
    return load && holds(*load);
  };
  constexpr int kLeast = 5;
  int percent = 99;
  // Loads grow with feed and depth: a sweep that holds at a percentage holds at all below.
  for (const std::size_t sweep : sweeps) {
    if (at(sweep, percent)) continue;
    int good = kLeast - 1, bad = percent;
    while (bad - good > 1) {
      const int middle = (good + bad) / 2;
      (at(sweep, middle) ? good : bad) = middle;
    }
    percent = good;
    if (percent < kLeast) return std::nullopt;
  }
  return 0.01 * percent;
}

}  // namespace aircut::verify
