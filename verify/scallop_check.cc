#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

#include <fmt/format.h>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/unreachable.h"
#include "verify/checks.h"
#include "verify/cross_lines.h"
#include "verify/depth_findings.h"
#include "verify/percentile.h"
#include "verify/ridges.h"
#include "verify/track_passes.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// A patch with fewer ridge samples than this may be a corner where passes turn: it
// does not make the check fail, but it has to be within the limit for a pass.
constexpr std::size_t kFewest = 5;
constexpr double kShare = 0.95;
constexpr std::size_t kMostLines = 4000;

struct RidgeHeights {
  double least_mm = 0.0, most_mm = 0.0;
};

// In a crease of the design something stands however close the passes lie, and that is no
// ridge: where it matters top and floors are taken over what a ball of this cutter can reach.
RidgeHeights OverReach(const CheckInputs& in, const Ridge& ridge, const CrossPair& pair) {
  const sim::MeshIndex* design_S = in.job.design.mesh_S.get();
  const auto tool = static_cast<std::size_t>(in.run.track.sweeps[static_cast<std::size_t>(ridge.sweep)].tool);
  const double ball_mm = TipBallRadius_mm(in.run.track.tools[tool].cutter);
  const RidgeHeights plain{pair.ridge_mm, pair.ridge_mm + pair.ridge_hidden_mm};
  if (design_S == nullptr || !(ball_mm > 0.0)) return plain;
  const Eigen::Vector3d& up_S = in.run.samples[static_cast<std::size_t>(ridge.sample)].ray.up_S;
  const auto over = [&](const CrossPair::Height& h) {
    return h.mm > 0.0 ? h.mm - sim::HeightOutOfReach(*design_S, ball_mm, {h.p_S, up_S}, h.mm) : h.mm;
  };
  const double mm = (over(pair.top) - std::max(over(pair.floors[0]), over(pair.floors[1]))) * pair.lean;
  if (mm >= pair.ridge_mm) return plain;
  const double descent_mm = sim::kDescent_radii * ball_mm;   // each may be read too high by so much
  return {std::max(0.0, mm - descent_mm), std::max(0.0, mm + descent_mm) + pair.ridge_hidden_mm};
}

// The highest that may stand on a line.
void TakeHighest(const CheckInputs& in, const std::vector<CrossPair>& pairs, double limit_mm, Ridge& ridge) {
  const CrossPair* highest = nullptr;
  RidgeHeights heights;
  for (const CrossPair& pair : pairs) {
    if (!(pair.ridge_hidden_mm > 0.0)) continue;
    const RidgeHeights plain{pair.ridge_mm, pair.ridge_mm + pair.ridge_hidden_mm};
    const RidgeHeights here = plain.most_mm > limit_mm ? OverReach(in, ridge, pair) : plain;
    if (highest != nullptr && here.most_mm <= heights.most_mm) continue;
    highest = &pair;
    heights = here;
  }
  if (highest == nullptr) return;
  ridge.height_mm = heights.least_mm, ridge.hidden_mm = heights.most_mm - heights.least_mm, ridge.apart_mm = highest->apart_mm;
}

// Ridges that the samples leave open, or show too high, are looked at by lines of rays across
// the passes. Beyond kMostLines of them evenly: the others are then left out.
std::vector<Ridge> LookedAtCloser(const CheckInputs& in, std::vector<Ridge> ridges) {
  const double limit_mm = in.job.accept.scallop_mm.value, spacing_mm = in.run.sample_spacing_mm;
  std::vector<std::size_t> open;
  for (std::size_t i = 0; i < ridges.size(); ++i) {
    const Ridge& r = ridges[i];
    if (r.height_mm + r.hidden_mm + 2.0 * sim::kRayBound_mm > limit_mm && r.apart_mm > 1e-6) open.push_back(i);
  }
  const std::size_t every = (open.size() + kMostLines - 1) / kMostLines;
  std::vector<CrossPlace> places;
  std::vector<std::size_t> chosen;
  std::vector<char> left_out(ridges.size(), 0);
  for (std::size_t n = 0; n < open.size(); ++n) {
    const Ridge& r = ridges[open[n]];
    left_out[open[n]] = n % every != 0 ? 1 : 0;
    if (n % every != 0) continue;
    chosen.push_back(open[n]);
    places.push_back({r.sample, r.second_S - r.first_S, 1.5 * r.apart_mm + spacing_mm, r.apart_mm / kRaysAcross});
  }
  const std::vector<std::vector<CrossPair>> pairs = MeasureAcross(in, places);
  tbb::task_arena arena(in.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, chosen.size(), [&](std::size_t n) { TakeHighest(in, pairs[n], limit_mm, ridges[chosen[n]]); });
  });
  std::vector<Ridge> told;
  for (std::size_t i = 0; i < ridges.size(); ++i) {
    if (left_out[i] == 0) told.push_back(ridges[i]);
  }
  return told;
}

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
  const std::vector<Ridge> ridges = LookedAtCloser(in, FindRidges(in));
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
