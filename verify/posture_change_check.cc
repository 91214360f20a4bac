#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {

namespace {

using kinematics::PlanFaultKind;

// Cut lines that follow a cut line in another posture, without a rapid between.
std::vector<Finding> PostureSteps(const CheckInputs& in) {
  std::vector<Finding> findings;
  const std::vector<int>& posture = in.run.motion.posture_per_line;
  for (std::size_t i = 1; i < posture.size() && i < in.job.path.size(); ++i) {
    const kinematics::PathLine& line = in.job.path[i];
    if (line.move != kinematics::MoveKind::kCut || posture[i] == posture[i - 1]) continue;
    Finding f;
    f.line = line.line;
    f.at_S = line.p_ST;
    f.value = 1.0;
    f.text = fmt::format("The arm would change its posture in the cut at {}.",
                         Lines(line.line, line.line));
    findings.push_back(f);
  }
  return findings;
}

std::int64_t ChangesBetweenCuts(const std::vector<int>& posture) {
  std::int64_t changes = 0;
  for (std::size_t i = 1; i < posture.size(); ++i) changes += posture[i] != posture[i - 1] ? 1 : 0;
  return changes;
}

}  // namespace

CheckResult CheckPostureChange(const CheckInputs& in) {
  std::vector<Finding> findings = FaultFindings(in, {PlanFaultKind::kPostureBreak});
  if (findings.empty()) findings = PostureSteps(in);
  if (!findings.empty()) {
    const double places = static_cast<double>(findings.size());
    for (Finding& f : findings) {
      f.value = 1.0;
      f.limit = 0.0;
      f.unit = "changes";
    }
    CheckResult r = FailedBy(std::move(findings), "no one posture serves the whole cut with this "
                                                  "spin and this place of the workpiece");
    r.worst = places;
    r.bound = 0.0;
    r.limit = 0.0;
    r.unit = "changes";
    return r;
  }
  const std::vector<int>& posture = in.run.motion.posture_per_line;
  if (!in.run.motion.complete()) return NotFollowed(in.run);
  if (posture.empty() || posture.size() != in.job.path.size()) {
    return Unproven("The posture is not known at every line.", {"a path that the arm can follow"});
  }
  CheckResult r = Measured({0.0, 0.0, 0.0, Sense::kAtMost, "changes"});
  const std::int64_t between = ChangesBetweenCuts(posture);
  r.why = "The arm keeps one posture through every cut";
  r.why += between > 0 ? "; between cuts it changes " + Plural(between, "time") + "." : ".";
  return r;
}

}  // namespace aircut::verify
