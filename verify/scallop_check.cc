#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/depth_findings.h"
#include "verify/percentile.h"
#include "verify/ridges.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// A patch with fewer ridge samples than this may be a corner where passes turn: it
// does not make the check fail, but it has to be within the limit for a pass.
constexpr std::size_t kFewest = 5;
constexpr double kShare = 0.95;

// Ridge samples of one place, about one cutter's radius wide.
struct RidgePatch {
  std::vector<const Ridge*> ridges;
  double height_mm = 0.0;       // 95th percentile as measured
  double high_mm = 0.0;         // the same with what may hide between samples
  const Ridge* at = nullptr;    // the ridge that shows it
};

bool Counts(const RidgePatch& patch) { return patch.ridges.size() >= kFewest; }

double PercentileOf(const std::vector<double>& values) {
  std::vector<WeightedValue> weighted;
  for (const double v : values) weighted.push_back({v, 1.0});
  return WeightedPercentile(weighted, kShare).value_or(0.0);
}

void Finish(RidgePatch& patch) {
  std::vector<double> heights, highs;
  for (const Ridge* r : patch.ridges) {
    heights.push_back(r->height_mm);
    highs.push_back(r->height_mm + r->hidden_mm);
  }
  patch.height_mm = PercentileOf(heights);
  patch.high_mm = PercentileOf(highs) + 2.0 * sim::kRayBound_mm;
  for (const Ridge* r : patch.ridges) {
    if (r->height_mm == patch.height_mm) { patch.at = r; break; }
  }
}

std::vector<RidgePatch> PatchesOf(const CheckInputs& in, const std::vector<Ridge>& ridges) {
  std::map<std::array<long, 3>, RidgePatch> cells;
  for (const Ridge& r : ridges) {
    const auto tool = static_cast<std::size_t>(in.run.track.sweeps[static_cast<std::size_t>(r.sweep)].tool);
    const double edge_mm = in.run.track.tools[tool].cutter.radius_mm();
    const Eigen::Vector3d& p = in.run.samples[static_cast<std::size_t>(r.sample)].ray.p_SQ;
    const auto cell = [edge_mm](double x) { return std::lround(std::floor(x / edge_mm)); };
    cells[{cell(p.x()), cell(p.y()), cell(p.z())}].ridges.push_back(&r);
  }
  std::vector<RidgePatch> patches;
  for (auto& [cell, patch] : cells) {
    Finish(patch);
    patches.push_back(std::move(patch));
  }
  return patches;
}

// What the path makes of the same patch.
double PredictedOf(const CheckInputs& in, const RidgePatch& patch) {
  std::vector<double> heights;
  for (const Ridge* r : patch.ridges) heights.push_back(PredictedHeight(in, *r));
  return PercentileOf(heights);
}

// Creases of the design are read as a sharp curve of its face: what would come of it
// is not told.
std::string PathText(const CheckInputs& in, const RidgePatch& patch) {
  constexpr double kMostCurved = 2.0;   // times the ridge on a flat face
  const auto tool = static_cast<std::size_t>(in.run.track.sweeps[static_cast<std::size_t>(patch.at->sweep)].tool);
  const std::optional<double> flat = RidgeHeight(in.run.track.tools[tool].cutter, patch.at->apart_mm);
  const double predicted = PredictedOf(in, patch);
  std::string text = fmt::format("passes lie {:.3g} mm apart there", patch.at->apart_mm);
  if (flat && predicted <= kMostCurved * *flat) {
    text += fmt::format(", which makes ridges of {:.3g} mm with this cutter", predicted);
  } else if (flat) {
    text += fmt::format(", which makes ridges of {:.3g} mm on a flat face", *flat);
  }
  return text;
}

Finding RidgeFinding(const CheckInputs& in, const RidgePatch& patch) {
  Finding f = FindingAt(in, patch.at->sample);
  const int other = in.run.track.sweeps[static_cast<std::size_t>(patch.at->other_sweep)].line;
  if (f.line > 0 && other > 0 && other != f.line) f.lines = {std::min(f.line, other), std::max(f.line, other)};
  if (!f.lines.empty()) f.line = f.lines.front();
  const sim::Limit& limit = in.job.accept.scallop_mm;
  f.value = patch.height_mm;
  f.limit = limit.value;
  f.cause = PathText(in, patch);
  f.text = fmt::format("Ridges between passes would stand {:.3g} mm high {}{}.", f.value, WhereText(f),
                       LimitText(limit, Millimetres(limit.value)));
  return f;
}

std::vector<Finding> RidgeFindings(const CheckInputs& in, const std::vector<RidgePatch>& patches) {
  std::vector<Finding> findings;
  for (const RidgePatch& p : patches) {
    if (!Counts(p) || p.height_mm - 2.0 * sim::kRayBound_mm <= in.job.accept.scallop_mm.value) continue;
    findings.push_back(RidgeFinding(in, p));
  }
  std::stable_sort(findings.begin(), findings.end(), [](const Finding& a, const Finding& b) { return a.value > b.value; });
  return findings;
}

void Explain(const CheckInputs& in, const std::vector<RidgePatch>& patches, const RidgePatch& worst, CheckResult* r) {
  const sim::Limit& limit = in.job.accept.scallop_mm;
  const std::string path = PathText(in, worst);
  if (r->result == Result::kFail) {
    r->findings = RidgeFindings(in, patches);
    r->where = WhereText(r->findings.front());
    r->why = r->findings.front().text + " In the path " + path + ".";
    TrimFindings(r);
    return;
  }
  r->why = fmt::format("Ridges between passes stand up to {:.3g} mm high at {}{}; {}.", worst.height_mm,
                       Place(in.run.samples[static_cast<std::size_t>(worst.at->sample)].ray.p_SQ),
                       LimitText(limit, Millimetres(limit.value)), path);
  if (r->result == Result::kPass) return;
  r->why += fmt::format(" Between samples {} apart up to {:.3g} mm more could hide: too much to tell.",
                        Millimetres(in.run.sample_spacing_mm), *r->bound);
  r->needs = {"a finer `resolution_mm`: samples lie twice that apart"};
}

}  // namespace

CheckResult CheckScallop(const CheckInputs& in) {
  const std::vector<Ridge> ridges = FindRidges(in);
  if (ridges.empty()) {
    return Unproven("Nowhere on the design do two passes of a cutter lie side by side, so there is no ridge to measure.",
                    {"a path that works a face in passes side by side"});
  }
  const std::vector<RidgePatch> patches = PatchesOf(in, ridges);
  const RidgePatch& worst = *std::max_element(patches.begin(), patches.end(), [](const RidgePatch& a, const RidgePatch& b) {
    return std::make_pair(Counts(a), a.height_mm) < std::make_pair(Counts(b), b.height_mm);
  });
  double high_mm = 0.0;
  for (const RidgePatch& p : patches) high_mm = std::max(high_mm, p.high_mm);
  const double limit_mm = in.job.accept.scallop_mm.value;
  const bool beyond = Counts(worst) && worst.height_mm > limit_mm;
  const double bound_mm = beyond ? 2.0 * sim::kRayBound_mm : high_mm - worst.height_mm;
  CheckResult r = Measured({worst.height_mm, bound_mm, limit_mm, Sense::kAtMost, "mm"});
  r.assumed = !in.job.accept.scallop_mm.given;
  Explain(in, patches, worst, &r);
  return NeedsFollowing(Guarded(r, in), in.run);
}

}  // namespace aircut::verify
