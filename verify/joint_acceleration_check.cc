#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::JointSpeedDemand;

// The bend of the joints' way is that of a cubic over each stretch; it is right
// within this share of itself.
constexpr double kBendShare = 0.02;

Result ResultOf(const JointSpeedDemand& demand) {
  return Decide(demand.acceleration_ratio, kBendShare * demand.acceleration_ratio, 1.0, Sense::kAtMost);
}

std::string TextOf(const CheckInputs& in, const JointSpeedDemand& demand) {
  return fmt::format("The written feed, held on {}, asks {:.0f} % of the acceleration of {}.",
                     Lines(demand.line, demand.line), 100.0 * demand.acceleration_ratio,
                     JointName(in.job, demand.acceleration_joint));
}

std::vector<Finding> FindingsOf(const CheckInputs& in) {
  std::vector<Finding> findings;
  for (const JointSpeedDemand& demand : in.run.motion.demands) {
    if (ResultOf(demand) != Result::kFail) continue;
    Finding f;
    f.line = demand.line;
    f.at_S = PlaceOf(in.job, demand.path_index);
    f.value = 100.0 * demand.acceleration_ratio;
    f.limit = 100.0;
    f.unit = "%";
    f.text = TextOf(in, demand);
    f.cause = "the tool turns sharply on this line, or the wrist is nearly straight";
    findings.push_back(f);
  }
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value > b.value; });
  return findings;
}

}  // namespace

// Corners are not asked here: the control slows down for them (`feed-held`).
CheckResult CheckJointAcceleration(const CheckInputs& in) {
  const std::vector<JointSpeedDemand>& demands = in.run.motion.demands;
  if (demands.empty()) {
    return in.run.motion.complete()
               ? Unproven("The path has no cut at a feed, so no demand is known.", {"cut moves with a feed"})
               : NotFollowed(in.run);
  }
  const JointSpeedDemand* worst = &demands.front();
  for (const JointSpeedDemand& demand : demands) {
    // Not a number counts as worse than any.
    if (std::isnan(worst->acceleration_ratio)) break;
    if (!(demand.acceleration_ratio <= worst->acceleration_ratio)) worst = &demand;
  }
  const double percent = 100.0 * worst->acceleration_ratio;
  CheckResult r = Measured({percent, kBendShare * percent, 100.0, Sense::kAtMost, "%"});
  r.where =
      fmt::format("{}, {}", JointName(in.job, worst->acceleration_joint), Lines(worst->line, worst->line));
  r.why = TextOf(in, *worst);
  if (r.result == Result::kFail) {
    r.findings = FindingsOf(in);
    TrimFindings(&r);
    return r;
  }
  if (r.result == Result::kUnproven) r.needs = {"a feed a little lower at " + Lines(worst->line, worst->line)};
  return r.result == Result::kPass && !in.run.motion.complete() ? NotFollowed(in.run) : r;
}

}  // namespace aircut::verify
