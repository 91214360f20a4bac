#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/load_support.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using sim::SweepLoad;

// Power of the spindle at a speed, between the points of its curve; nothing beyond it.
std::optional<double> PowerAt_w(const std::vector<sim::PowerPoint>& curve, double rpm) {
  if (curve.empty() || !(rpm >= curve.front().rpm && rpm <= curve.back().rpm)) return std::nullopt;
  const auto above = std::find_if(curve.begin(), curve.end(), [&](const sim::PowerPoint& p) { return p.rpm >= rpm; });
  if (above == curve.begin() || above->rpm == rpm) return above->power_w;
  const sim::PowerPoint &a = *(above - 1), &b = *above;
  return a.power_w + (rpm - a.rpm) / (b.rpm - a.rpm) * (b.power_w - a.power_w);
}

// Share of the spindle's power that a load takes [%].
BandedValue PercentOf(const SweepLoad& load, double power_w, double limit) {
  const auto percent = [&](sim::BandEnd end) { return 100.0 * load.power_w[end] / power_w; };
  return {percent(sim::kLeast), percent(sim::kNominal), percent(sim::kMost), limit, limit};
}

std::string Advice(const CheckInputs& in, double limit) {
  std::vector<std::pair<double, std::size_t>> over;
  const auto percent = [&](const SweepLoad& load) {
    const auto power_w = PowerAt_w(in.job.cell.power, load.rpm);
    return power_w ? 100.0 * load.power_w[sim::kMost] / *power_w : std::nan("");
  };
  for (const SweepLoad& load : in.run.load.sweeps) {
    if (!(percent(load) <= limit)) over.emplace_back(percent(load), static_cast<std::size_t>(load.sweep));
  }
  std::stable_sort(over.begin(), over.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<std::size_t> sweeps;
  for (const auto& [value, sweep] : over) sweeps.push_back(sweep);
  const auto holds = [&](const SweepLoad& load) { return percent(load) <= limit; };
  std::string text;
  if (const auto feed = LargestFactor(in, sweeps, FeedBy, holds)) {
    text = fmt::format(" A feed of {:.0f} % passes at the bad end of the band", 100.0 * *feed);
  }
  if (const auto depth = LargestFactor(in, sweeps, DepthBy, holds)) {
    text += fmt::format("{} {:.0f} % of the depth per pass", text.empty() ? " At the bad end of the band passes" : ", or", 100.0 * *depth);
  }
  return text.empty() ? "" : text + ".";
}

std::string WhyOf(const CheckInputs& in, const SweepLoad& worst, double power_w) {
  const sim::Limit& limit = in.job.accept.spindle_percent;
  const int line = in.run.track.sweeps[static_cast<std::size_t>(worst.sweep)].line;
  return fmt::format("At {} the cut takes {:.3g} W ({:.3g} to {:.3g} W by the material's band) and {:.3g} N m, of {:.4g} W "
                     "at {:.0f} rpm{}.", Lines(line, line), worst.power_w[sim::kNominal], worst.power_w[sim::kLeast],
                     worst.power_w[sim::kMost], worst.torque_nm[sim::kNominal], power_w, worst.rpm,
                     LimitText(limit, fmt::format("{:g} % of it", limit.value)));
}

}  // namespace

CheckResult CheckSpindleLoad(const CheckInputs& in) {
  if (auto none = NoForces(in)) return *none;
  if (in.job.cell.power.empty()) {
    return Unproven("Nothing says which power the spindle has.", {"`spindle.power_w`: [[rpm, watts], ..], its curve"});
  }
  const double limit = in.job.accept.spindle_percent.value;
  const SweepLoad* worst = nullptr;
  double worst_w = 0.0;
  for (const SweepLoad& load : in.run.load.sweeps) {
    const auto power_w = PowerAt_w(in.job.cell.power, load.rpm);
    if (!power_w || !(*power_w > 0.0)) {
      return Unproven(fmt::format("The spindle's power at {:.0f} rpm is not stated.", load.rpm),
                      {fmt::format("`spindle.power_w` at {:.0f} rpm", load.rpm)});
    }
    if (worst == nullptr || load.power_w[sim::kMost] / *power_w > worst->power_w[sim::kMost] / worst_w) {
      worst = &load;
      worst_w = *power_w;
    }
  }
  CheckResult r = MeasuredBand(PercentOf(*worst, worst_w, limit), "%");
  r.assumed = !in.job.accept.spindle_percent.given || !in.run.load.force->assumed.empty();
  const int line = in.run.track.sweeps[static_cast<std::size_t>(worst->sweep)].line;
  r.where = Lines(line, line);
  r.why = WhyOf(in, *worst, worst_w);
  if (r.result == Result::kPass) return NeedsFollowing(r, in.run);
  const std::string advice = Advice(in, limit);
  if (r.result == Result::kUnproven) {
    r.needs = {NarrowerForces(in)};
    r.why += advice;
    return r;
  }
  Finding f = FindingAt(in, *worst);
  f.value = *r.worst;
  f.limit = limit;
  f.unit = "%";
  f.text = r.why + advice;
  f.cause = "the cut takes more material a second than the spindle can";
  r.findings = {f};
  return r;
}

}  // namespace aircut::verify
