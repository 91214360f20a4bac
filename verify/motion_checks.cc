#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/joint_room.h"
#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/side_moves.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::DegFromRad;
using kinematics::PlanFault;
using kinematics::PlanFaultKind;

// At the moments themselves joint margins are differences of angles in double.
constexpr double kAngleBound_deg = 1e-6;

std::optional<Eigen::Vector3d> PlaceOf(const sim::Job& job, int path_index) {
  if (path_index < 0 || path_index >= static_cast<int>(job.path.size())) return std::nullopt;
  return job.path[path_index].p_ST;
}

// Faults of the kinds asked for, neighbouring lines in one finding.
std::vector<Finding> FaultFindings(const CheckInputs& in,
                                   const std::vector<PlanFaultKind>& kinds) {
  std::vector<Finding> findings;
  const PlanFault* last = nullptr;
  for (const PlanFault& fault : in.run.motion.faults) {
    if (std::find(kinds.begin(), kinds.end(), fault.kind) == kinds.end()) continue;
    const bool follows = last != nullptr && last->kind == fault.kind &&
                         last->joint == fault.joint && fault.path_index - last->path_index <= 1 &&
                         fault.path_index >= last->path_index;
    if (follows) {
      findings.back().lines = {findings.back().line, fault.line};
    } else {
      Finding f;
      f.line = fault.line;
      f.text = fault.text;
      f.at_S = PlaceOf(in.job, fault.path_index);
      f.limit = fault.limit;
      findings.push_back(f);
    }
    Finding& f = findings.back();
    if (!follows || fault.value > f.value) {
      f.value = fault.value;
      f.text = fault.text;
      f.at_S = PlaceOf(in.job, fault.path_index);
    }
    last = &fault;
  }
  return findings;
}

std::string NoMotionReason(const sim::Run& run) {
  if (run.motion.faults.empty()) return "No motion was planned.";
  const PlanFault& first = run.motion.faults.front();
  return "The arm could not follow the path beyond " + Lines(first.line, first.line) +
         " (see reach, joint-range, posture-change).";
}

CheckResult NotFollowed(const sim::Run& run) {
  return Unproven(NoMotionReason(run), {"a path that the arm can follow"});
}

// A failed result from faults of planning.
CheckResult FailedBy(std::vector<Finding> findings, const std::string& cause) {
  CheckResult r;
  r.result = Result::kFail;
  for (Finding& f : findings) f.cause = cause;
  const Finding& first = findings.front();
  r.why = first.text;
  r.where = Lines(first.line, first.lines.empty() ? first.line : first.lines[1]);
  r.findings = std::move(findings);
  TrimFindings(&r);
  return r;
}

}  // namespace

CheckResult CheckReach(const CheckInputs& in) {
  std::vector<Finding> findings =
      FaultFindings(in, {PlanFaultKind::kOutOfReach, PlanFaultKind::kAtSingularity});
  for (Finding& f : SideFaults(in, {PlanFaultKind::kOutOfReach, PlanFaultKind::kAtSingularity})) {
    findings.push_back(std::move(f));
  }
  if (!findings.empty()) {
    double beyond_mm = 0.0;
    for (Finding& f : findings) {
      f.unit = "mm";
      if (f.value > beyond_mm) beyond_mm = f.value;
    }
    CheckResult r = FailedBy(std::move(findings),
                             "the workpiece stands too far from the arm or too near to it, or the "
                             "tool leans where the wrist cannot follow");
    r.worst = beyond_mm;
    r.bound = 0.0;
    r.limit = 0.0;
    r.unit = "mm";
    return r;
  }
  if (!in.run.motion.complete()) return NotFollowed(in.run);
  CheckResult r = Measured({0.0, 0.0, 0.0, Sense::kAtMost, "mm"});
  r.why = "The arm reaches all " + Count(static_cast<std::int64_t>(in.job.path.size())) + " lines." + SideMovesText(in.run);
  return r;
}

namespace {

CheckResult OutOfRange(std::vector<Finding> faults, const sim::Limit& limit) {
  double beyond_deg = 0.0;
  for (Finding& f : faults) {
    f.value = -DegFromRad(f.value);   // a margin below zero
    f.limit = limit.value;
    f.unit = "deg";
    if (-f.value > beyond_deg) beyond_deg = -f.value;
  }
  CheckResult r = FailedBy(std::move(faults), "the spin or the place of the workpiece asks for an "
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
    CheckResult out = OutOfRange(std::move(faults), limit);
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
    f.text = fmt::format("The written feed at {} asks {} of the speed of joint {}.",
                         Lines(d.line, d.line), Percent(d.ratio), d.joint + 1);
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
  r.where = fmt::format("joint {}, {}", worst.joint + 1, Lines(worst.line, worst.line));
  r.why = fmt::format("The written feed asks at most {} of a joint's speed: joint {}, {}.",
                      Percent(worst.ratio), worst.joint + 1, Lines(worst.line, worst.line));
  if (r.result == Result::kFail) {
    r.findings = SpeedFindings(in);
    r.why = r.findings.front().text;
    TrimFindings(&r);
    return r;
  }
  if (r.result == Result::kUnproven) {
    r.needs = {"a feed a little lower at " + Lines(worst.line, worst.line)};
    return r;
  }
  return in.run.motion.complete() ? r : NotFollowed(in.run);
}

namespace {

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
