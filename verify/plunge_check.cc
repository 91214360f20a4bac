#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// A cutter that cuts at its centre plunges where it goes down steeper than this.
// From memory.
constexpr double kSteep_rad = 0.785398163397448309;

// One stretch of sweeps that go down along the axis into material.
struct Plunge {
  std::size_t first = 0, last = 0;
  double down_mm = 0.0;      // along the axis, in material
  double axial_mm = 0.0;     // how high up the cutter it meets material
  // A flat pass that ends in a small drop is no deep plunge, and neither is a deep
  // hole cleared before.
  double depth_mm() const { return std::min(down_mm, axial_mm); }
};

// How steeply a sweep goes down along its axis [rad]; negative upwards.
double Descent_rad(const sim::ToolTrack& track, std::size_t i) {
  const Eigen::Vector3d travel = track.p_ST[i + 1] - track.p_ST[i];
  const double length = travel.norm();
  return length > 0.0 ? std::asin(std::clamp(-travel.dot(track.axis_S[i]) / length, -1.0, 1.0)) : 0.0;
}

std::vector<Plunge> PlungesOf(const sim::Run& run, int tool, double steep_rad) {
  std::vector<Plunge> plunges;
  for (std::size_t i = 0; i < run.track.sweeps.size(); ++i) {
    const sim::SweepContact& c = run.cut.contact.sweeps[i];
    if (run.track.sweeps[i].tool != tool || !c.cuts() || Descent_rad(run.track, i) <= steep_rad) continue;
    const double down_mm = (run.track.p_ST[i] - run.track.p_ST[i + 1]).dot(run.track.axis_S[i]);
    if (plunges.empty() || plunges.back().last + 1 != i) plunges.push_back({i, i, 0.0, 0.0});
    Plunge& p = plunges.back();
    p.last = i;
    p.down_mm += down_mm;
    p.axial_mm = std::max(p.axial_mm, static_cast<double>(c.axial_mm));
  }
  return plunges;
}

// Shapes of end that are made with and without a cutting centre (common practice, no
// source); round and pointed ones cut to their tip.
bool IsOftenHollow(const std::string& shape) {
  return shape == "flat" || shape == "bull_nose" || shape == "outline";
}

// What the check holds one cutter against.
struct Rule {
  double steep_rad = 0.0, limit_mm = 0.0;
  bool bears = true;         // it cuts at its centre
};

Rule RuleOf(const CheckInputs& in, const sim::CellCutter& cutter) {
  const sim::AcceptLimits& accept = in.job.accept;
  if (cutter.centre_cutting.value_or(true)) {
    return {kSteep_rad, 2.0 * accept.plunge_diameters.value * cutter.cutter.radius_mm(), true};
  }
  return {kinematics::RadFromDeg(accept.ramp_deg.value), 0.0, false};
}

std::string TextOf(const Rule& rule, const Plunge& plunge, const sim::CellCutter& cutter,
                   const std::string& where) {
  if (rule.bears) {
    return fmt::format("Cutter {} would plunge {} into the material {} (limit {}).", cutter.number,
                       Millimetres(plunge.depth_mm()), where, Millimetres(rule.limit_mm));
  }
  return fmt::format("Cutter {} does not cut at its centre and would go down {} into the material, steeper than a "
                     "ramp of {:.3g} deg, {}.", cutter.number, Millimetres(plunge.depth_mm()),
                     kinematics::DegFromRad(rule.steep_rad), where);
}

Finding FindingOf(const CheckInputs& in, const Plunge& plunge, const sim::CellCutter& cutter,
                  const Rule& rule) {
  const sim::ToolTrack& track = in.run.track;
  Finding f;
  f.line = track.sweeps[plunge.first].line;
  const int last = track.sweeps[plunge.last].line;
  if (last > f.line && f.line > 0) f.lines = {f.line, last};
  f.time_s = TimeOfSweep(in.run, plunge.first);
  f.at_S = track.p_ST[plunge.last + 1];
  f.value = plunge.depth_mm();
  f.limit = rule.limit_mm;
  f.unit = "mm";
  const std::string lines = f.line > 0 ? "at " + Lines(f.line, std::max(f.line, last))
                                       : std::string("on the way to or from the path");
  f.text = TextOf(rule, plunge, cutter, lines + ", " + Place(*f.at_S) + " on the workpiece");
  f.cause = "the path goes straight down where it should ramp or take several passes";
  return f;
}

// How far beyond its limit the worst plunge of one cutter is.
struct ToolPlunges {
  CheckResult result;
  double beyond_mm = 0.0;
};

std::optional<ToolPlunges> OfTool(const CheckInputs& in, int tool) {
  const sim::CellCutter* cutter = FindCutter(in.job.cell, in.run.track.tools[static_cast<std::size_t>(tool)].number);
  if (cutter == nullptr) return std::nullopt;
  const Rule rule = RuleOf(in, *cutter);
  const std::vector<Plunge> plunges = PlungesOf(in.run, tool, rule.steep_rad);
  if (plunges.empty()) return std::nullopt;
  const auto worst = std::max_element(plunges.begin(), plunges.end(), [](const Plunge& a, const Plunge& b) {
    return a.depth_mm() < b.depth_mm();
  });
  // Where a plunge meets the material is known to a voxel.
  const double bound_mm = in.run.cut.contact.voxel_mm;
  ToolPlunges of;
  of.beyond_mm = worst->depth_mm() - rule.limit_mm;
  of.result = Measured({worst->depth_mm(), bound_mm, rule.limit_mm, Sense::kAtMost, "mm"});
  const Finding f = FindingOf(in, *worst, *cutter, rule);
  of.result.where = Lines(f.line, f.lines.empty() ? f.line : f.lines[1]);
  of.result.why = f.text;
  if (of.result.result == Result::kUnproven) of.result.needs = {"a finer `resolution_mm`"};
  if (of.result.result == Result::kFail) {
    for (const Plunge& p : plunges) {
      if (p.depth_mm() - bound_mm > rule.limit_mm) of.result.findings.push_back(FindingOf(in, p, *cutter, rule));
    }
  } else if (of.result.result == Result::kPass && !cutter->centre_cutting && IsOftenHollow(cutter->cutter.outline().shape)) {
    of.result.result = Result::kUnproven;
    of.result.why = fmt::format("Cutter {} goes down {} into the material; nothing says whether it cuts at its centre.",
                                cutter->number, Millimetres(worst->depth_mm()));
    of.result.needs = {fmt::format("`cutters.{}.centre_cutting`", cutter->number)};
  }
  return of;
}

}  // namespace

CheckResult CheckPlunge(const CheckInputs& in) {
  const std::size_t sweeps = in.run.track.sweeps.size();
  if (sweeps == 0 || in.run.cut.contact.sweeps.size() != sweeps) {
    return Unproven("No contact was recorded, so nothing can be said.", {"a tool path that moves"});
  }
  const sim::AcceptLimits& accept = in.job.accept;
  std::optional<ToolPlunges> worst;
  std::vector<Finding> findings;
  for (int t = 0; t < static_cast<int>(in.run.track.tools.size()); ++t) {
    const std::optional<ToolPlunges> of = OfTool(in, t);
    if (!of) continue;
    findings.insert(findings.end(), of->result.findings.begin(), of->result.findings.end());
    const bool worse = !worst || of->result.result > worst->result.result ||
                       (of->result.result == worst->result.result && of->beyond_mm > worst->beyond_mm);
    if (worse) worst = of;
  }
  if (!worst) {
    CheckResult none = Measured({0.0, 0.0, 0.0, Sense::kAtMost, "mm"});
    none.why = "The cutters go down into the material nowhere but on ramps.";
    return NeedsFollowing(none, in.run);
  }
  CheckResult result = worst->result;
  result.assumed = !accept.plunge_diameters.given;
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value - a.limit > b.value - b.limit; });
  result.findings = findings;
  TrimFindings(&result);
  return NeedsFollowing(result, in.run);
}

}  // namespace aircut::verify
