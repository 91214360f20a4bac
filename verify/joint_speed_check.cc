#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {

namespace {

Result SpeedResult(const kinematics::JointSpeedDemand& d) {
  return Decide(d.ratio, d.ratio_bound, 1.0, Sense::kAtMost);
}

std::string Percent(double ratio) {
  return std::isfinite(ratio) ? fmt::format("{:.0f} %", 100.0 * ratio) : std::string("any number");
}

// Lines whose written feed asks too much; neighbours of one joint together.
std::vector<Finding> SpeedFindings(const CheckInputs& in) {
  std::vector<Finding> findings;
  const kinematics::JointSpeedDemand* last = nullptr;
  for (const kinematics::JointSpeedDemand& d : in.run.motion.demands) {
    if (SpeedResult(d) != Result::kFail) continue;
    const bool follows = last != nullptr && last->joint == d.joint &&
                         d.path_index - last->path_index == 1;
    if (follows) {
      findings.back().lines = {findings.back().line, d.line};
    } else {
      findings.emplace_back();
      findings.back().line = d.line;
    }
    Finding& f = findings.back();
    last = &d;
    if (follows && !(100.0 * d.ratio > f.value)) continue;
    f.value = 100.0 * d.ratio;
    f.limit = 100.0;
    f.unit = "%";
    f.at_S = PlaceOf(in.job, d.path_index);
    f.text = fmt::format("The written feed at {} asks {} of the speed of {}.", Lines(d.line, d.line),
                         Percent(d.ratio), JointName(in.job, d.joint));
    f.cause = "a feed too high for so much turning here, or a pose near a wrist singularity";
  }
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value > b.value; });
  return findings;
}

// The demand that decides: a surer fault before an open one before a pass.
const kinematics::JointSpeedDemand& DecidingDemand(
    const std::vector<kinematics::JointSpeedDemand>& demands) {
  const kinematics::JointSpeedDemand* worst = &demands.front();
  for (const kinematics::JointSpeedDemand& d : demands) {
    const Result a = SpeedResult(d), b = SpeedResult(*worst);
    if (a > b || (a == b && d.ratio > worst->ratio)) worst = &d;
  }
  return *worst;
}

// What the control makes of it; where nobody says, the worse is taken.
std::string OverSpeedText(sim::OverSpeed over_speed) {
  switch (over_speed) {
    case sim::OverSpeed::kSlows: return " The control slows down there, and the chip with it.";
    case sim::OverSpeed::kStops: return " The control stops there with an error, the cutter in the cut.";
    case sim::OverSpeed::kUnsaid: break;
  }
  return " `controller.over_speed` is not said; taken as stops: the control stops there with an error, the "
         "cutter in the cut.";
}

}  // namespace

CheckResult CheckJointSpeed(const CheckInputs& in) {
  const std::vector<kinematics::JointSpeedDemand>& demands = in.run.motion.demands;
  if (demands.empty()) {
    return in.run.motion.complete()
               ? Unproven("The path has no cut at a feed, so no demand is known.",
                          {"cut moves with a feed"})
               : NotFollowed(in.run);
  }
  const kinematics::JointSpeedDemand& worst = DecidingDemand(demands);
  CheckResult r = Measured({100.0 * worst.ratio, 100.0 * worst.ratio_bound, 100.0,
                            Sense::kAtMost, "%"});
  r.where = fmt::format("{}, {}", JointName(in.job, worst.joint), Lines(worst.line, worst.line));
  r.why = fmt::format("The written feed asks at most {} of a joint's speed: {}, {}.", Percent(worst.ratio),
                      JointName(in.job, worst.joint), Lines(worst.line, worst.line));
  if (r.result == Result::kFail) {
    r.findings = SpeedFindings(in);
    r.why = r.findings.front().text + OverSpeedText(in.job.cell.controller_notes.over_speed);
    r.assumed = in.job.cell.controller_notes.over_speed == sim::OverSpeed::kUnsaid;
    TrimFindings(&r);
    return r;
  }
  if (r.result == Result::kUnproven) {
    r.needs = {"a feed a little lower at " + Lines(worst.line, worst.line)};
    return r;
  }
  return in.run.motion.complete() ? r : NotFollowed(in.run);
}

}  // namespace aircut::verify
