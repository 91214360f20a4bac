#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/cause_words.h"
#include "verify/checks.h"
#include "verify/depth_findings.h"
#include "verify/layer_shares.h"
#include "verify/line_width.h"
#include "verify/words.h"

namespace aircut::verify {

namespace {

std::string VolumeText(double volume_mm3) {
  return volume_mm3 < 1e3 ? fmt::format("{:.3g} mm³", volume_mm3) : fmt::format("{:.3g} cm³", 1e-3 * volume_mm3);
}

// What bends, where that explains the error.
std::string BendText(const CheckInputs& in, int sample) {
  const int sweep = in.run.depths[static_cast<std::size_t>(sample)].sweep;
  const double error_mm = in.deviation.error_mm[static_cast<std::size_t>(sample)];
  if (!in.run.execution.displaced() || sweep < 0) return "";
  const std::vector<sim::ErrorLayer> all(sim::kErrorLayers.begin(), sim::kErrorLayers.end());
  const Eigen::Vector3d& up_S = in.run.samples[static_cast<std::size_t>(sample)].ray.up_S;
  const double bent_mm = ShiftOf(in.run.execution, static_cast<std::size_t>(sweep), up_S, all).nominal;
  if (!(std::abs(error_mm - bent_mm) <= 0.2 * std::abs(error_mm))) return "";
  sim::ErrorLayer largest = all.front();
  double most_mm = -1.0;
  for (const sim::ErrorLayer layer : all) {
    const double mm = std::abs(ShiftOf(in.run.execution, static_cast<std::size_t>(sweep), up_S, {layer}).nominal);
    if (mm > most_mm) {
      most_mm = mm;
      largest = layer;
    }
  }
  return fmt::format("what bends under the cut explains {:.0f} % of the error, most of it the layer {}; `deflection` says what "
                     "would pass", 100.0 * bent_mm / error_mm, sim::WordFor(largest));
}

}  // namespace

std::string CauseOfDepthError(const CheckInputs& in, int sample) {
  const double error_mm = in.deviation.error_mm[sample];
  const sim::DepthRay& ray = in.run.samples[sample].ray;
  if (const std::string bends = BendText(in, sample); !bends.empty()) return bends;
  if (in.run.location.given) {
    const double rise_mm = RiseOfPiece(in.run.location, ray.p_SQ, ray.up_S);
    // A piece that stands higher than believed is cut deeper by as much.
    const double left_mm = std::abs(error_mm + rise_mm);
    if (std::abs(rise_mm) > 0.01 && left_mm <= 0.2 * std::abs(error_mm)) {
      const bool low = rise_mm > 0.0;
      return fmt::format(
          "the path lies {0} {1} the touched piece, which explains {2:.0f} % of the error; a frame "
          "{0} too {3} and a bit {0} {4} than typed look alike; to tell them apart: measure the stick-out of "
          "the bit with a setter",
          Millimetres(std::abs(rise_mm)), low ? "below" : "above",
          100.0 * (1.0 - left_mm / std::abs(error_mm)), low ? "low" : "high",
          low ? "longer" : "shorter");
    }
  }
  return in.deviation.cause ? CauseText(*in.deviation.cause, in.job) : "";
}

namespace {

std::string Micrometres(double length_mm) { return fmt::format("{:.2g} µm", 1000.0 * length_mm); }

}  // namespace

int LineAtSample(const CheckInputs& in, int sample) {
  const int sweep = in.run.depths[sample].sweep;
  if (sweep >= 0 && sweep < static_cast<int>(in.run.track.sweeps.size())) {
    return in.run.track.sweeps[sweep].line;
  }
  const int index = in.run.samples[sample].path_index;
  return index >= 0 && index < static_cast<int>(in.job.path.size()) ? in.job.path[index].line : 0;
}

std::string PlaceLimitText(const CheckInputs& in, sim::Tolerance which, const sim::PlaceLimit& limit) {
  if (limit.region < 0) return LimitText(sim::LimitOfJob(in.job.accept, which), Millimetres(limit.value_mm));
  const std::string& name = in.job.accept.regions[static_cast<std::size_t>(limit.region)].name;
  return fmt::format(" (limit {} in region {})", Millimetres(limit.value_mm), name);
}

std::string WhereText(const Finding& f) {
  std::string text = "at " + Place(*f.at_S) + " on the workpiece";
  const int last = f.lines.empty() ? f.line : f.lines[1];
  if (f.line > 0) text += ", " + Lines(f.line, last);
  return text;
}

Finding FindingAt(const CheckInputs& in, int sample) {
  Finding f;
  f.line = LineAtSample(in, sample);
  f.at_S = in.run.samples[sample].ray.p_SQ;
  const int sweep = in.run.depths[sample].sweep;
  if (sweep >= 0) f.time_s = TimeOfSweep(in.run, static_cast<std::size_t>(sweep));
  f.unit = "mm";
  f.cause = CauseOfDepthError(in, sample);
  return f;
}

namespace {

// A depth by a tool that was still moving is none.
CheckResult Settled(CheckResult r, const CheckInputs& in) {
  const sim::Execution& execution = in.run.execution;
  if (execution.settled) return r;
  r.why += fmt::format(" Forces and displacements did not settle in {} cuts: {:.3f} mm are still open, {:.3f} mm would do.",
                       execution.cuts, execution.moved_mm, execution.settled_mm);
  if (r.result == Result::kPass) r.result = Result::kUnproven;
  r.needs.push_back("a stiffer fixture or arm, or less depth a pass");
  return r;
}

}  // namespace

CheckResult Guarded(CheckResult result, const CheckInputs& in) {
  CheckResult r = Settled(std::move(result), in);
  const sim::DepthGuard& guard = in.run.guard;
  if (guard.beyond.empty()) return r;
  const auto worst = static_cast<std::size_t>(guard.worst_sample);
  r.why += fmt::format(" A third computation, by dense poses, differs on {} of {} samples, most at {}, sample {}, by {}.",
                       guard.beyond.size(), guard.samples.size(), Place(in.run.samples[worst].ray.p_SQ), worst,
                       Micrometres(guard.worst_gap_mm));
  if (r.result == Result::kPass) r.result = Result::kUnproven;
  r.needs.push_back("a report of this to the makers of aircut, with the job: two of its own computations disagree");
  return r;
}

namespace {

sim::Tolerance ToleranceOf(Region::Kind kind) {
  return kind == Region::Kind::kGouge ? sim::Tolerance::kGouge : sim::Tolerance::kLeftover;
}

Finding FindingOf(const CheckInputs& in, const Region& region) {
  Finding f = FindingAt(in, region.worst_sample);
  if (region.first_line > 0) f.line = region.first_line;
  if (region.last_line > region.first_line) f.lines = {region.first_line, region.last_line};
  f.value = region.worst_mm;
  f.limit = region.limit.value_mm;
  const bool gouge = region.kind == Region::Kind::kGouge;
  const bool through = in.run.depths[region.worst_sample].cut_through;
  const std::string what =
      !gouge    ? Millimetres(region.worst_mm) + " would be left standing"
      : through ? "The piece would be cut through, " + Millimetres(region.worst_mm) + " too deep,"
                : "The piece would be cut " + Millimetres(region.worst_mm) + " too deep";
  f.text = fmt::format("{} {}, over {}, {}{}.", what, WhereText(f),
                       SquareMillimetres(region.area_mm2), VolumeText(region.volume_mm3),
                       PlaceLimitText(in, ToleranceOf(region.kind), region.limit));
  return f;
}

// Farthest beyond its own limit first.
std::vector<Finding> RegionFindings(const CheckInputs& in, const std::vector<Region>& regions) {
  std::vector<Finding> findings;
  for (const Region& region : regions) findings.push_back(FindingOf(in, region));
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value - a.limit > b.value - b.limit; });
  return findings;
}

// The bound that matters: towards the limit.
double BoundToward(const Interval& interval, double limit) {
  return interval.value > limit ? interval.value - interval.low : interval.high - interval.value;
}

std::string OpenSamplesText(const Deviation& d) {
  const double unknown =
      d.carve_samples > 0 ? 100.0 * d.unknown_samples / d.carve_samples : 0.0;
  std::string text = fmt::format("{:.1f} % of the design's samples have no material around them", unknown);
  if (d.unseen_share > 0.0) {
    text += fmt::format(", {:.1f} % of the area lies under faces that no scan has seen", 100.0 * d.unseen_share);
  }
  return text + fmt::format(" and on {:.1f} % of the area grid and exact rays disagree", 100.0 * d.disputed_share);
}

std::vector<std::string> NeedsOf(const Deviation& d) {
  std::vector<std::string> needs;
  if (d.unknown_samples > 0) needs.push_back("a stock mesh that holds the whole design");
  if (d.unseen_share > 0.0) needs.push_back("`stock.mesh`: a scan of what is cut, without holes");
  if (d.unseen_share == 0.0 || d.disputed_share > 0.0) needs.push_back("a finer `resolution_mm`");
  return needs;
}

// gouge and leftover differ only in the side they look at.
struct Side {
  const Interval& depth;
  const sim::PlaceLimit& limit;
  const std::vector<Region>& regions;
  sim::Tolerance which;
  const char* nothing;        // the sentence of a pass, up to the number
};

// Left open by what bends, where nothing else leaves a sample open; else 0.
double LargestOpen_mm(const Deviation& d) {
  if (d.open_mm.empty() || d.unknown_samples > 0 || d.unseen_share > 0.0 || d.disputed_share > 0.0) return 0.0;
  return *std::max_element(d.open_mm.begin(), d.open_mm.end());
}

CheckResult SideResult(const CheckInputs& in, const Side& side) {
  if (in.run.samples.empty() || in.deviation.carve_samples == 0) {
    return Unproven("No part of the design is to be carved, so there is nothing to measure.",
                    {"a design that lies in the stock"});
  }
  const double limit_mm = side.limit.value_mm;
  CheckResult r = Measured({side.depth.value, BoundToward(side.depth, limit_mm), limit_mm,
                            Sense::kAtMost, "mm"});
  r.assumed = side.limit.region < 0 && !sim::LimitOfJob(in.job.accept, side.which).given;
  const sim::Limit& region = in.job.accept.region_mm2;
  if (r.result == Result::kFail) {
    r.findings = RegionFindings(in, side.regions);
    r.worst = r.findings.front().value;
    r.limit = r.findings.front().limit;
    r.where = WhereText(r.findings.front());
    r.why = r.findings.front().text;
    TrimFindings(&r);
  } else if (r.result == Result::kPass) {
    r.why = fmt::format("{} {} over {} or more{}.", side.nothing, Millimetres(side.depth.value),
                        SquareMillimetres(region.value), PlaceLimitText(in, side.which, side.limit));
  } else if (const double open_mm = LargestOpen_mm(in.deviation); open_mm > 0.0) {
    r.why = fmt::format("The bands of force and stiffness leave up to {} of depth open{}.", Millimetres(open_mm),
                        PlaceLimitText(in, side.which, side.limit));
    r.needs = {"`material.slot_test`, and a push test with less play: narrower bands of what bends"};
  } else {
    r.why = OpenSamplesText(in.deviation) + ": too much to tell.";
    r.needs = NeedsOf(in.deviation);
  }
  return r;
}

}  // namespace

namespace {

// What these cutters cannot reach is no leftover: it has its own numbers.
std::string UnreachableText(const CheckInputs& in) {
  const Unreachable& u = in.deviation.unreachable;
  if (u.deepest_sample < 0) return "";
  const sim::DepthRay& ray = in.run.samples[static_cast<std::size_t>(u.deepest_sample)].ray;
  return fmt::format(" Not counted, because no cutter of this path is small enough for it: {}, {}, up to {} at {}.",
                     SquareMillimetres(u.area_mm2), VolumeText(u.volume_mm3), Millimetres(u.deepest_mm), Place(ray.p_SQ));
}

}  // namespace

CheckResult CheckGouge(const CheckInputs& in) {
  const Deviation& d = in.deviation;
  const CheckResult r = SideResult(in, {d.gouge_depth, d.gouge_limit, d.gouges, sim::Tolerance::kGouge, "Nowhere is cut deeper than"});
  return NeedsFollowing(Guarded(r, in), in.run);
}

CheckResult CheckLeftover(const CheckInputs& in) {
  const Deviation& d = in.deviation;
  CheckResult r = SideResult(in, {d.leftover_depth, d.leftover_limit, d.leftovers, sim::Tolerance::kLeftover,
                                  "Nothing is left higher than"});
  r.why += UnreachableText(in);
  return NeedsFollowing(Guarded(r, in), in.run);
}

namespace {

// The region that best shows a depth failure of one limit's places: the larger of both sides.
const Region* LargestRegion(const CheckInputs& in, const RegionDepth& part) {
  const Region* largest = nullptr;
  for (const auto* regions : {&in.deviation.gouges, &in.deviation.leftovers}) {
    for (const Region& r : *regions) {
      const Eigen::Vector3d& p_S = in.run.samples[static_cast<std::size_t>(r.worst_sample)].ray.p_SQ;
      if (sim::LimitAt(in.job.accept, sim::Tolerance::kDepth, p_S).region != part.limit.region) continue;
      if (largest == nullptr || r.area_mm2 > largest->area_mm2) largest = &r;
    }
  }
  return largest;
}

std::string NameOf(const CheckInputs& in, const RegionDepth& part) {
  if (part.limit.region >= 0) return "region " + in.job.accept.regions[static_cast<std::size_t>(part.limit.region)].name;
  return in.deviation.by_limit.size() > 1 ? "the rest of the carving" : "the carving";
}

std::string PercentileText(const CheckInputs& in, const RegionDepth& part) {
  return fmt::format("95 % of {} lies within {} of the design{}", NameOf(in, part), Millimetres(part.p95.value),
                     PlaceLimitText(in, sim::Tolerance::kDepth, part.limit));
}

Finding DepthFinding(const CheckInputs& in, const RegionDepth& part) {
  const Region* region = LargestRegion(in, part);
  const int sample = region != nullptr ? region->worst_sample : part.farthest_sample;
  Finding f = FindingAt(in, sample);
  if (region != nullptr && region->first_line > 0) {
    f.line = region->first_line;
    if (region->last_line > region->first_line) f.lines = {region->first_line, region->last_line};
  }
  f.value = part.p95.value;
  f.limit = part.limit.value_mm;
  const double error_mm = in.deviation.error_mm[sample];
  f.text = fmt::format("{}; it would be {} {} {}.", PercentileText(in, part), Millimetres(std::abs(error_mm)),
                       error_mm < 0.0 ? "too deep" : "too high", WhereText(f));
  return f;
}

}  // namespace

namespace {

// "99.2 % lie", or "98.1 to 99.4 % lie" where part of it is not known.
std::string WithinText(const RegionDepth& part) {
  const double low = 100.0 * part.within.low, high = 100.0 * part.within.high;
  return high - low < 0.05 ? fmt::format("{:.1f} % lie", 100.0 * part.within.value)
                           : fmt::format("{:.1f} to {:.1f} % lie", low, high);
}

// How wide the lines are that a V engraves.
std::string LineWidthText(const CheckInputs& in) {
  const auto widths = MeasureLineWidths(in);
  if (!widths) return "";
  return fmt::format(" Lines are {:.3f} to {:.3f} mm wide at the face; {:.3f} mm is what the asked depth makes with this V.",
                     widths->least_mm, widths->largest_mm, widths->expected_mm);
}

// How well the numbers themselves are held: the third computation and the grid's order.
std::string NumbersText(const sim::Run& run) {
  std::string text;
  if (run.guard.beyond.empty() && !run.guard.samples.empty()) {
    text += fmt::format(" A third computation, by dense poses, agrees on {} samples within {}.", run.guard.samples.size(),
                        Micrometres(run.guard.worst_gap_mm + sim::kDensePose_mm));
  }
  if (!run.convergence) return text;
  const sim::Convergence& c = *run.convergence;
  text += fmt::format(" On one pass at {} the grid is {} off with voxels of {:g} mm and {} with half of that",
                      Place(c.at_S), Micrometres(c.coarse_rms_mm), c.voxel_mm, Micrometres(c.fine_rms_mm));
  return text + (c.order() ? fmt::format(", order {:.1f}.", *c.order()) : std::string(": rounding."));
}

}  // namespace

namespace {

Result DecisionOf(const RegionDepth& part) {
  return Decide(part.p95.value, BoundToward(part.p95, part.limit.value_mm), part.limit.value_mm, Sense::kAtMost);
}

// Fails before unproven before passes; of the same kind the one nearest to, or farthest beyond, its limit.
const RegionDepth& DecidingPart(const Deviation& d) {
  const auto rank = [](const RegionDepth& part) {
    if (part.places == 0) return -1;
    const Result result = DecisionOf(part);
    return result == Result::kFail ? 2 : result == Result::kUnproven ? 1 : 0;
  };
  return *std::max_element(d.by_limit.begin(), d.by_limit.end(), [&](const RegionDepth& a, const RegionDepth& b) {
    if (rank(a) != rank(b)) return rank(a) < rank(b);
    return a.p95.value / a.limit.value_mm < b.p95.value / b.limit.value_mm;
  });
}

std::string OtherPartsText(const CheckInputs& in, const RegionDepth& told) {
  std::string text;
  for (const RegionDepth& part : in.deviation.by_limit) {
    if (&part == &told || part.places == 0) continue;
    text += fmt::format(" {}.", PercentileText(in, part));
  }
  return text;
}

}  // namespace

CheckResult CheckDepth(const CheckInputs& in) {
  const Deviation& d = in.deviation;
  if (d.carve_samples == 0) {
    return Unproven("No part of the design is to be carved, so there is no depth to measure.",
                    {"a design that lies in the stock"});
  }
  const RegionDepth& part = DecidingPart(d);
  const double limit_mm = part.limit.value_mm;
  CheckResult r = Measured({part.p95.value, BoundToward(part.p95, limit_mm), limit_mm, Sense::kAtMost, "mm"});
  r.assumed = part.limit.region < 0 && !in.job.accept.depth_mm.given;
  if (r.result == Result::kFail) {
    r.findings = {DepthFinding(in, part)};
    r.where = Lines(r.findings.front().line,
                    r.findings.front().lines.empty() ? r.findings.front().line
                                                     : r.findings.front().lines[1]);
    r.why = r.findings.front().text;
  } else if (r.result == Result::kPass) {
    r.why = fmt::format("{}; of its area {} within the limit.", PercentileText(in, part), WithinText(part));
  } else {
    r.why = OpenSamplesText(d) + ": too much to tell.";
    r.needs = NeedsOf(d);
  }
  r.why += OtherPartsText(in, part);
  r = Guarded(r, in);
  r.why += LineWidthText(in) + NumbersText(in.run);
  return NeedsFollowing(r, in.run);
}

}  // namespace aircut::verify
