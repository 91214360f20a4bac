#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::CornerCut;

// An arc in double.
constexpr double kArcBound_mm = 1e-6;

std::string TextOf(const CornerCut& corner) {
  return fmt::format("The corner at the end of {} turns by {:.0f} deg and is passed {:.3f} mm away.",
                     Lines(corner.line, corner.line), kinematics::DegFromRad(corner.turn_rad),
                     corner.deviation_mm);
}

// Lines that take material or push it.
std::set<int> LinesInMaterial(const CheckInputs& in) {
  std::set<int> lines;
  const std::vector<sim::SweepInfo>& sweeps = in.run.track.sweeps;
  const std::vector<sim::SweepContact>& contacts = in.run.cut.contact.sweeps;
  for (std::size_t i = 0; i < sweeps.size() && i < contacts.size(); ++i) {
    if (contacts[i].removed_units > 0) lines.insert(sweeps[i].line);
  }
  return lines;
}

// Only corners between cuts leave a mark, and only where the cutter is in the
// material on one of their sides: a lead-in in the air leaves none.
std::vector<CornerCut> CornersOfCuts(const CheckInputs& in) {
  const std::set<int> in_material = LinesInMaterial(in);
  std::vector<CornerCut> corners;
  for (const CornerCut& corner : in.run.motion.corners) {
    const auto index = static_cast<std::size_t>(corner.path_index);
    if (index >= in.job.path.size() || in.job.path[index].move != kinematics::MoveKind::kCut) continue;
    const int next = index + 1 < in.job.path.size() ? in.job.path[index + 1].line : 0;
    if (in_material.count(corner.line) + in_material.count(next) == 0) continue;
    corners.push_back(corner);
  }
  std::stable_sort(corners.begin(), corners.end(), [](const CornerCut& a, const CornerCut& b) {
    return a.deviation_mm > b.deviation_mm;
  });
  return corners;
}

std::vector<Finding> FindingsOf(const CheckInputs& in, const std::vector<CornerCut>& corners) {
  const double limit_mm = in.job.accept.corner_mm.value;
  std::vector<Finding> findings;
  for (const CornerCut& corner : corners) {
    if (Decide(corner.deviation_mm, kArcBound_mm, limit_mm, Sense::kAtMost) != Result::kFail) break;
    Finding f;
    f.line = corner.line;
    f.at_S = PlaceOf(in.job, corner.path_index);
    f.value = corner.deviation_mm;
    f.limit = limit_mm;
    f.unit = "mm";
    f.text = TextOf(corner);
    f.cause = "the corner distance of the control is large for this detail: lower it, or stop exactly here";
    findings.push_back(f);
  }
  return findings;
}

CheckResult NothingRounded(const std::string& why, const sim::Limit& limit) {
  CheckResult r = Measured({0.0, 0.0, limit.value, Sense::kAtMost, "mm"});
  r.assumed = !limit.given;
  r.why = why;
  return r;
}

}  // namespace

CheckResult CheckCornerRounding(const CheckInputs& in) {
  const kinematics::ControllerRules& rules = in.job.cell.controller;
  const sim::Limit& limit = in.job.accept.corner_mm;
  if (!in.run.motion.complete()) return NotFollowed(in.run);
  if (rules.corner == kinematics::CornerRule::kExactStop) {
    return NothingRounded("The control stops exactly at every line.", limit);
  }
  if (!rules.corner_distance_mm) {
    return Unproven("The control rounds corners, but from which distance on was not said.",
                    {"`controller.corner.distance`: how far from a corner the rounding begins"});
  }
  const std::vector<CornerCut> corners = CornersOfCuts(in);
  if (corners.empty()) return NothingRounded("No corner of a cut is rounded.", limit);
  const CornerCut& worst = corners.front();
  CheckResult r = Measured({worst.deviation_mm, kArcBound_mm, limit.value, Sense::kAtMost, "mm"});
  r.assumed = !limit.given;
  r.where = Lines(worst.line, worst.line);
  r.why = TextOf(worst) + " " + fmt::format("Modelled as arcs that begin {} before the corner{}.",
                                            Millimetres(worst.start_mm),
                                            LimitText(limit, fmt::format("{:.3f} mm", limit.value)));
  if (r.result == Result::kFail) {
    r.findings = FindingsOf(in, corners);
    TrimFindings(&r);
  }
  if (r.result == Result::kUnproven) r.needs = {"a corner distance a little smaller"};
  return r;
}

}  // namespace aircut::verify
