#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "verify/load_support.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using sim::SweepLoad;

// Of the length of the cut at this feed per tooth or more: the rest may start and stop.
// Domain notes, row 29 (engineering judgement, no source).
constexpr double kHeldShare = 0.9;
// Chips thinner than twice the radius of a sharp edge rub rather than cut: told, not
// judged. Domain notes A32; radius of 0.005 mm from memory.
constexpr double kRubbing_mm = 0.01;
// Loads are kept as floats: whole percents and turns are taken with this much slack.
constexpr double kRounding = 1e-2;

struct ChipLimits {
  double least_mm = 0, most_mm = 0;
  bool of_cutter = true;        // stated for the cutter, else from the material's chart
};

// Between the diameters of a chart evenly; beyond its ends in proportion to the diameter.
ChipLimits FromChart(const std::vector<sim::ChipRange>& chart, double diameter_mm) {
  const auto scaled = [&](const sim::ChipRange& row) {
    const double factor = diameter_mm / row.diameter_mm;
    return ChipLimits{factor * row.least_mm, factor * row.most_mm, false};
  };
  if (diameter_mm <= chart.front().diameter_mm) return scaled(chart.front());
  if (diameter_mm >= chart.back().diameter_mm) return scaled(chart.back());
  const auto above = std::find_if(chart.begin(), chart.end(),
                                  [&](const sim::ChipRange& row) { return row.diameter_mm > diameter_mm; });
  const sim::ChipRange &a = *(above - 1), &b = *above;
  const double t = (diameter_mm - a.diameter_mm) / (b.diameter_mm - a.diameter_mm);
  return {a.least_mm + t * (b.least_mm - a.least_mm), a.most_mm + t * (b.most_mm - a.most_mm), false};
}

std::optional<ChipLimits> LimitsOf(const CheckInputs& in, const sim::CellCutter& cutter) {
  if (cutter.chip_load) return ChipLimits{cutter.chip_load->least_mm, cutter.chip_load->most_mm, true};
  if (!in.job.material || in.job.material->chip_load.empty()) return std::nullopt;
  return FromChart(in.job.material->chip_load, 2.0 * cutter.cutter.radius_mm());
}

// Charts are for cuts one diameter deep: a quarter less at two, half at three (domain
// notes B3, check CUT-18).
double DepthFactor(double depth_mm, const sim::CellCutter& cutter) {
  const double diameters = depth_mm / (2.0 * cutter.cutter.radius_mm());
  return std::clamp(1.25 - 0.25 * diameters, 0.5, 1.0);
}

double Length_mm(const CheckInputs& in, const SweepLoad& load) {
  const auto i = static_cast<std::size_t>(load.sweep);
  return (in.run.track.p_ST[i + 1] - in.run.track.p_ST[i]).norm();
}

// Feed per tooth over its least, of every sweep with its length.
struct Ratio {
  double ratio = 0, length_mm = 0;
  const SweepLoad* load = nullptr;
};

struct Survey {
  std::map<int, ChipLimits> limits;      // per cutter number
  std::vector<int> unknown;              // cutters without a range
  const SweepLoad* thickest = nullptr;   // nearest to, or farthest beyond, what its cutter bears
  double thickest_ratio = 0, thickest_limit_mm = 0;
  std::vector<Ratio> ratios;
  double length_mm = 0, rubbing_mm = 0;
};

Survey Surveyed(const CheckInputs& in) {
  Survey survey;
  for (const SweepLoad& load : in.run.load.sweeps) {
    const sim::CellCutter* cutter = CutterOf(in, load);
    if (cutter == nullptr) continue;
    if (survey.limits.count(cutter->number) == 0) {
      const auto limits = LimitsOf(in, *cutter);
      if (!limits) {
        if (std::find(survey.unknown.begin(), survey.unknown.end(), cutter->number) == survey.unknown.end()) {
          survey.unknown.push_back(cutter->number);
        }
        continue;
      }
      survey.limits[cutter->number] = *limits;
    }
    const ChipLimits& limits = survey.limits[cutter->number];
    const double limit_mm = limits.most_mm * DepthFactor(load.depth_mm, *cutter);
    const double ratio = (load.chip_most_mm + load.chip_bound_mm) / limit_mm;
    if (survey.thickest == nullptr || ratio > survey.thickest_ratio) {
      survey.thickest = &load;
      survey.thickest_ratio = ratio;
      survey.thickest_limit_mm = limit_mm;
    }
    const double length_mm = Length_mm(in, load);
    survey.length_mm += length_mm;
    if (load.chip_most_mm < kRubbing_mm) survey.rubbing_mm += length_mm;
    survey.ratios.push_back({load.feed_per_tooth_mm / limits.least_mm, length_mm, &load});
  }
  return survey;
}

// The feed per tooth, over its least, that kHeldShare of the cut's length has or exceeds.
Ratio HeldRatio(Survey& survey) {
  std::stable_sort(survey.ratios.begin(), survey.ratios.end(),
                   [](const Ratio& a, const Ratio& b) { return a.ratio < b.ratio; });
  double below_mm = 0.0;
  for (const Ratio& r : survey.ratios) {
    below_mm += r.length_mm;
    if (below_mm > (1.0 - kHeldShare) * survey.length_mm) return r;
  }
  return survey.ratios.back();
}

std::string Origin(const CheckInputs& in, const ChipLimits& limits) {
  return limits.of_cutter ? "`chip_load` of the cutter"
                          : fmt::format("chart for {}: {}", in.job.material->name, in.job.material->chip_load_source);
}

CheckResult TooThick(const CheckInputs& in, Survey& survey) {
  const SweepLoad& load = *survey.thickest;
  CheckResult r = Measured({load.chip_most_mm, load.chip_bound_mm, survey.thickest_limit_mm, Sense::kAtMost, "mm"});
  const sim::CellCutter& cutter = *CutterOf(in, load);
  const int line = in.run.track.sweeps[static_cast<std::size_t>(load.sweep)].line;
  r.where = Lines(line, line);
  r.assumed = !survey.limits.at(cutter.number).of_cutter;
  r.why = fmt::format("The thickest chip is {:.3f} mm of {:.3f} mm that cutter {} bears at {} deep ({}), at {}, with "
                      "{:.3f} mm of feed per tooth.", load.chip_most_mm, survey.thickest_limit_mm, cutter.number,
                      Millimetres(load.depth_mm), Origin(in, survey.limits.at(cutter.number)), Lines(line, line),
                      load.feed_per_tooth_mm);
  if (r.result == Result::kUnproven) r.needs = {"a finer `resolution_mm`"};
  if (r.result != Result::kFail) return r;
  Finding f = FindingAt(in, load);
  f.value = load.chip_most_mm;
  f.limit = survey.thickest_limit_mm;
  f.unit = "mm";
  f.text = r.why;
  // Chips are in proportion to the feed.
  const double percent = std::floor(100.0 / survey.thickest_ratio);
  f.text += fmt::format(" A feed of {:.0f} % passes there, or {:.0f} rpm instead of {:.0f} if cutter and spindle bear it.",
                        percent, std::ceil(load.rpm * survey.thickest_ratio), load.rpm);
  f.cause = "the feed is too fast for this spindle speed and number of flutes";
  r.findings = {f};
  return r;
}

CheckResult TooThin(const CheckInputs& in, Survey& survey) {
  const Ratio held = HeldRatio(survey);
  const sim::CellCutter& cutter = *CutterOf(in, *held.load);
  const ChipLimits& limits = survey.limits.at(cutter.number);
  CheckResult r = Measured({held.load->feed_per_tooth_mm, 0.0, limits.least_mm, Sense::kAtLeast, "mm"});
  r.assumed = !limits.of_cutter;
  const int line = in.run.track.sweeps[static_cast<std::size_t>(held.load->sweep)].line;
  r.why = fmt::format("On {:.0f} % of the cut the feed per tooth is {:.3f} mm or more; cutter {} needs {:.3f} mm ({}).",
                      100.0 * kHeldShare, held.load->feed_per_tooth_mm, cutter.number, limits.least_mm, Origin(in, limits));
  if (r.result != Result::kFail) return r;
  Finding f = FindingAt(in, *held.load);
  f.value = held.load->feed_per_tooth_mm;
  f.limit = limits.least_mm;
  f.unit = "mm";
  const double factor = 1.0 / held.ratio;
  f.text = r.why + fmt::format(" At {} it has {:.3f} mm. A feed of {:.0f} % passes, or {:.0f} rpm instead of {:.0f}{}.",
                               Lines(line, line), held.load->feed_per_tooth_mm, std::ceil(100.0 * factor - kRounding),
                               std::floor(held.load->rpm * held.ratio + kRounding), held.load->rpm,
                               survey.thickest_ratio * factor > 1.0
                                   ? "; with that feed the thickest chips would be too thick, so a smaller depth is needed besides"
                                   : "");
  f.cause = "the feed is too slow for this spindle speed and number of flutes: the edges rub";
  r.findings = {f};
  return r;
}

}  // namespace

CheckResult CheckChipLoad(const CheckInputs& in) {
  if (auto none = NoLoad(in)) return *none;
  Survey survey = Surveyed(in);
  if (!survey.unknown.empty()) {
    std::vector<std::string> needs;
    for (const int number : survey.unknown) {
      needs.push_back(fmt::format("`cutters.{}.chip_load`: the least and the largest feed per tooth", number));
    }
    return Unproven("Nothing says which chip the cutter needs and bears.", needs);
  }
  if (survey.thickest == nullptr || !(survey.length_mm > 0.0)) {
    return Unproven("No cut has a length, so no chip can be told.", {"cut moves that go somewhere"});
  }
  CheckResult thick = TooThick(in, survey), thin = TooThin(in, survey);
  CheckResult r = thin.result > thick.result ? thin : thick;
  const CheckResult& other = thin.result > thick.result ? thick : thin;
  r.why += " " + other.why;
  r.findings.insert(r.findings.end(), other.findings.begin(), other.findings.end());
  const double rubbing = 100.0 * survey.rubbing_mm / survey.length_mm;
  if (rubbing >= 1.0) {
    r.why += fmt::format(" On {:.0f} % of the cut no chip is thicker than {:g} mm: there the edge rubs more than it cuts.",
                         rubbing, kRubbing_mm);
  }
  return NeedsFollowing(r, in.run);
}

}  // namespace aircut::verify
