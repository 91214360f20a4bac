#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/joint_room.h"
#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/side_moves.h"
#include "verify/words.h"

namespace aircut::verify {

namespace {

using kinematics::DegFromRad;
using kinematics::PlanFaultKind;

// At the moments themselves joint margins are differences of angles in double.
constexpr double kAngleBound_deg = 1e-6;

CheckResult OutOfRange(const CheckInputs& in, std::vector<Finding> faults, const sim::Limit& limit) {
  double beyond_deg = 0.0;
  for (Finding& f : faults) {
    f.value = -DegFromRad(f.value);   // a margin below zero
    f.limit = limit.value;
    f.unit = "deg";
    if (-f.value > beyond_deg) beyond_deg = -f.value;
  }
  CheckResult r = FailedBy(in, std::move(faults), "the spin or the place of the workpiece asks for an "
                                              "angle that the joint does not have");
  r.worst = -beyond_deg;
  r.bound = kAngleBound_deg;
  r.limit = limit.value;
  r.sense = Sense::kAtLeast;
  r.unit = "deg";
  return r;
}

const kinematics::SumLimit* SumLimitOf(const sim::Job& job, std::size_t joint) {
  if (job.cell.arm == nullptr || joint >= job.cell.arm->joints().size()) return nullptr;
  const std::optional<kinematics::SumLimit>& limit = job.cell.arm->joints()[joint].sum_limit;
  return limit ? &*limit : nullptr;
}

// How near one joint comes to an end of its range, its own or that of its sum.
struct Margin {
  std::size_t joint = 0;
  double value_deg = 0.0;
  double bound_deg = 0.0;   ///< that it may be less between two moments
  Result result = Result::kUnproven;
  double lower_end_deg() const { return value_deg - bound_deg; }
};

// Between moments a joint leaves the even run, and a sum leaves it with both joints.
Margin MarginOf(const CheckInputs& in, std::size_t joint) {
  const double limit_deg = in.job.accept.joint_margin_deg.value;
  const kinematics::SumLimit* sum = SumLimitOf(in.job, joint);
  const double joints = sum == nullptr ? 1.0 : 1.0 + std::abs(sum->ratio);
  Margin m;
  m.joint = joint;
  m.value_deg = DegFromRad(in.run.motion.joint_margins[joint].margin_rad);
  m.bound_deg = DegFromRad(joints * kinematics::kJointChord_rad) + kAngleBound_deg;
  // A moment is a place where the arm surely comes by.
  m.result = Decide(m.value_deg, kAngleBound_deg, limit_deg, Sense::kAtLeast);
  if (m.result != Result::kFail) m.result = Decide(m.value_deg, m.bound_deg, limit_deg, Sense::kAtLeast);
  return m;
}

// "joint 3", or "joint 3 + joint 2" where the sum is what has the margin.
std::string NameOf(const CheckInputs& in, std::size_t joint) {
  const kinematics::SumLimit* sum = SumLimitOf(in.job, joint);
  const int index = static_cast<int>(joint);
  return sum != nullptr && in.run.motion.joint_margins[joint].of_sum ? kinematics::NameOfSum(index, *sum)
                                                                     : kinematics::NameOfJoint(index);
}

std::string MarginText(const CheckInputs& in, const Margin& margin) {
  const sim::Limit& limit = in.job.accept.joint_margin_deg;
  const int line = in.run.motion.joint_margins[margin.joint].line;
  std::string name = NameOf(in, margin.joint);
  name.front() = 'J';
  return fmt::format("{} comes within {:.1f} deg of the end of its range at {}{}.", name, margin.value_deg,
                     Lines(line, line), LimitText(limit, fmt::format("{:.1f} deg", limit.value)));
}

// Not a number counts as worse than any, so that it cannot hide behind a good joint.
Margin Tightest(const CheckInputs& in) {
  Margin tightest = MarginOf(in, 0);
  for (std::size_t j = 0; j < in.run.motion.joint_margins.size(); ++j) {
    const Margin m = MarginOf(in, j);
    if (std::isnan(m.value_deg)) return m;
    const bool is_worse = m.result > tightest.result ||
                          (m.result == tightest.result && m.lower_end_deg() < tightest.lower_end_deg());
    if (is_worse) tightest = m;
  }
  return tightest;
}

std::vector<Finding> MarginFindings(const CheckInputs& in) {
  std::vector<Finding> findings;
  for (std::size_t j = 0; j < in.run.motion.joint_margins.size(); ++j) {
    const Margin margin = MarginOf(in, j);
    if (margin.result != Result::kFail) continue;
    const kinematics::JointMargin& m = in.run.motion.joint_margins[j];
    Finding f;
    f.line = m.line;
    f.at_S = PlaceOf(in.job, m.path_index);
    f.value = margin.value_deg;
    f.limit = in.job.accept.joint_margin_deg.value;
    f.unit = "deg";
    f.text = MarginText(in, margin);
    f.cause = m.of_sum ? "the spin or the place of the workpiece folds these joints together"
                       : "the spin or the place of the workpiece winds this joint up";
    findings.push_back(f);
  }
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value < b.value; });
  return findings;
}

}  // namespace

CheckResult CheckJointRange(const CheckInputs& in) {
  const sim::Limit& limit = in.job.accept.joint_margin_deg;
  std::vector<Finding> faults = FaultFindings(in, {PlanFaultKind::kOutOfRange});
  for (Finding& f : SideFaults(in, {PlanFaultKind::kOutOfRange})) faults.push_back(std::move(f));
  if (!faults.empty()) {
    CheckResult out = OutOfRange(in, std::move(faults), limit);
    out.assumed = !limit.given;
    return out;
  }
  if (!in.run.motion.complete() || in.run.motion.joint_margins.empty()) return NotFollowed(in.run);
  const Margin margin = Tightest(in);
  CheckResult r = Measured({margin.value_deg, margin.bound_deg, limit.value, Sense::kAtLeast, "deg"});
  r.result = margin.result;
  r.assumed = !limit.given;
  const int line = in.run.motion.joint_margins[margin.joint].line;
  r.where = NameOf(in, margin.joint) + ", " + Lines(line, line);
  r.why = MarginText(in, margin);
  if (r.result == Result::kUnproven) r.needs = {"a margin farther from the limit"};
  if (r.result == Result::kFail) r.findings = MarginFindings(in);
  return WithSideMargins(in, std::move(r));
}

}  // namespace aircut::verify
