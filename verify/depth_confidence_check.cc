#include <cmath>
#include <set>

#include <fmt/format.h>

#include "verify/depth_uncertainty.h"
#include "verify/checks.h"
#include "verify/percentile.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// Numerical error of the percentile: what the bands leave open is among the uncertainties.
double NumericalBound_mm(const CheckInputs& in) {
  const Deviation& deviation = in.deviation;
  std::vector<WeightedValue> bounds;
  for (std::size_t i = 0; i < deviation.bound_mm.size(); ++i) {
    if (in.run.samples[i].role != sim::DesignSample::Role::kCarve) continue;
    const double open_mm = deviation.open_mm.empty() ? 0.0 : deviation.open_mm[i];
    const double bound_mm = deviation.bound_mm[i] - open_mm;
    if (!std::isnan(bound_mm)) bounds.push_back({bound_mm, in.run.samples[i].area_mm2});
  }
  return WeightedPercentile(std::move(bounds), 0.95).value_or(INFINITY);
}

std::string Why(const CheckInputs& in, const DepthUncertainty& budget) {
  std::string why = fmt::format("95 % of the carving lies within {:.3f} mm of the design; with {:g} % confidence the depth is off by "
                                "another {:.3f} mm at most, which together is {:.3f} mm{}.",
                                in.deviation.p95_mm, 100.0 * in.job.accept.confidence.value, budget.expanded_mm(),
                                in.deviation.p95_mm + budget.expanded_mm(),
                                LimitText(in.job.accept.depth_mm, fmt::format("{:.2f} mm", in.job.accept.depth_mm.value)));
  if (!budget.of.empty()) {
    why += fmt::format(" Most of it by {} ({:.0f} %).", budget.of.front().source, 100.0 * budget.ShareOf(budget.of.front()));
  }
  return why;
}

// What is not known can only widen the answer: it takes a pass away and mends no fail.
void NameUnknown(const DepthUncertainty& budget, CheckResult* r) {
  std::set<std::string> whys;
  for (const UnknownUncertainty& unknown : budget.unknown) {
    whys.insert(unknown.why);
    r->needs.push_back(unknown.need);
  }
  if (whys.empty()) return;
  r->why += fmt::format(" Of {} nothing is known.", Plural(static_cast<std::int64_t>(whys.size()), "further source"));
  if (r->result == Result::kPass) r->result = Result::kUnproven;
}

}  // namespace

CheckResult CheckDepthConfidence(const CheckInputs& in) {
  if (in.deviation.carve_samples == 0) return Unproven("There is no design to be sure of.", {"`design`"});
  const DepthUncertainty budget = DepthUncertaintyOf(in);
  // What is not known exactly takes from a pass and from a fail alike.
  const double open_mm = budget.expanded_mm() + NumericalBound_mm(in);
  CheckResult r = Measured({in.deviation.p95_mm, open_mm, in.job.accept.depth_mm.value, Sense::kAtMost, "mm"});
  r.assumed = !in.job.accept.depth_mm.given;
  r.why = Why(in, budget);
  if (r.result == Result::kFail) {
    Finding f;
    f.value = in.deviation.p95_mm;
    f.limit = in.job.accept.depth_mm.value;
    f.unit = "mm";
    f.text = r.why;
    f.cause = "the depth is off by more than all that is not known of it: see `depth`";
    r.findings.push_back(std::move(f));
  }
  if (r.result == Result::kUnproven && !budget.of.empty()) r.needs.push_back("less doubt about " + budget.of.front().source);
  NameUnknown(budget, &r);
  return NeedsFollowing(r, in.run);
}

}  // namespace aircut::verify
