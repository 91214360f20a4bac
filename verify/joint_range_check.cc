#include <algorithm>
#include <cmath>
#include <string_view>

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

CheckResult OutOfRange(const CheckInputs& in, std::vector<Finding> faults) {
  const sim::AcceptLimits& accept = in.job.accept;
  for (Finding& f : faults) {
    const bool slides = f.unit == "mm";
    f.value = slides ? -f.value : -DegFromRad(f.value);  // a margin below zero
    f.limit = slides ? accept.slide_margin_mm.value : accept.joint_margin_deg.value;
    if (!slides) f.unit = "deg";
  }
  // The first one names the result, so the farthest of its unit is what it measures.
  const std::string unit = faults.front().unit;
  const double limit = faults.front().limit;
  double beyond = 0.0;
  for (const Finding& f : faults) {
    if (f.unit == unit && -f.value > beyond) beyond = -f.value;
  }
  CheckResult r = FailedBy(in, std::move(faults), "the spin or the place of the workpiece asks for an "
                                              "angle that the joint does not have");
  r.worst = -beyond;
  r.bound = kAngleBound_deg;
  r.limit = limit;
  r.sense = Sense::kAtLeast;
  r.unit = unit;
  r.assumed = unit == "mm" ? !accept.slide_margin_mm.given : !accept.joint_margin_deg.given;
  return r;
}

const kinematics::SumLimit* SumLimitOf(const sim::Job& job, std::size_t joint) {
  if (job.cell.arm == nullptr || joint >= job.cell.arm->joints().size()) return nullptr;
  const std::optional<kinematics::SumLimit>& limit = job.cell.arm->joints()[joint].sum_limit;
  return limit ? &*limit : nullptr;
}

// How near one joint comes to an end of its range, its own or that of its sum: deg,
// mm for a slide.
struct Margin {
  std::size_t joint = 0;
  double value = 0.0;
  double bound = 0.0;  ///< that it may be less between two moments
  sim::Limit limit;
  const char* unit = "deg";
  Result result = Result::kUnproven;
  double lower_end() const { return value - bound; }
};

// Between moments a joint leaves the even run, and a sum leaves it with both joints.
Margin MarginOf(const CheckInputs& in, std::size_t joint) {
  const kinematics::SumLimit* sum = SumLimitOf(in.job, joint);
  const double joints = sum == nullptr ? 1.0 : 1.0 + std::abs(sum->ratio);
  const double margin = in.run.motion.joint_margins[joint].margin_rad;
  Margin m;
  m.joint = joint;
  if (SlidesIn(in.job, static_cast<int>(joint))) {
    m.unit = "mm";
    m.limit = in.job.accept.slide_margin_mm;
    m.value = margin;
    m.bound = kinematics::kSlideChord_mm + kAngleBound_deg;
  } else {
    m.limit = in.job.accept.joint_margin_deg;
    m.value = DegFromRad(margin);
    m.bound = DegFromRad(joints * kinematics::kJointChord_rad) + kAngleBound_deg;
  }
  // A moment is a place where the arm surely comes by.
  m.result = Decide(m.value, kAngleBound_deg, m.limit.value, Sense::kAtLeast);
  if (m.result != Result::kFail) m.result = Decide(m.value, m.bound, m.limit.value, Sense::kAtLeast);
  return m;
}

// "joint 3", or "joint 3 + joint 2" where the sum is what has the margin.
std::string NameOf(const CheckInputs& in, std::size_t joint) {
  const kinematics::SumLimit* sum = SumLimitOf(in.job, joint);
  const int index = static_cast<int>(joint);
  return sum != nullptr && in.run.motion.joint_margins[joint].of_sum ? kinematics::NameOfSum(index, *sum)
                                                                     : JointName(in.job, index);
}

std::string MarginText(const CheckInputs& in, const Margin& margin) {
  const int line = in.run.motion.joint_margins[margin.joint].line;
  std::string name = NameOf(in, margin.joint);
  name.front() = 'J';
  return fmt::format("{} comes within {:.1f} {} of the end of its range at {}{}.", name, margin.value,
                     margin.unit, Lines(line, line),
                     LimitText(margin.limit, fmt::format("{:.1f} {}", margin.limit.value, margin.unit)));
}

// Not a number counts as worse than any, so that it cannot hide behind a good joint.
// A slide speaks only where it is worse off than every turn: mm are no degrees.
Margin Tightest(const CheckInputs& in) {
  Margin tightest = MarginOf(in, 0);
  for (std::size_t j = 0; j < in.run.motion.joint_margins.size(); ++j) {
    const Margin m = MarginOf(in, j);
    if (std::isnan(m.value)) return m;
    const bool is_worse = m.result > tightest.result ||
                          (m.result == tightest.result && std::string_view(m.unit) == tightest.unit &&
                           m.lower_end() < tightest.lower_end());
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
    f.value = margin.value;
    f.limit = margin.limit.value;
    f.unit = margin.unit;
    f.text = MarginText(in, margin);
    f.cause = margin.unit == std::string_view("mm")
                  ? "the job or the home asks for a place near the end of this axis"
              : m.of_sum ? "the spin or the place of the workpiece folds these joints together"
                         : "the spin or the place of the workpiece winds this joint up";
    findings.push_back(f);
  }
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value < b.value; });
  return findings;
}

}  // namespace

CheckResult CheckJointRange(const CheckInputs& in) {
  std::vector<Finding> faults = FaultFindings(in, {PlanFaultKind::kOutOfRange});
  for (Finding& f : SideFaults(in, {PlanFaultKind::kOutOfRange})) faults.push_back(std::move(f));
  if (!faults.empty()) return OutOfRange(in, std::move(faults));
  if (!in.run.motion.complete() || in.run.motion.joint_margins.empty()) return NotFollowed(in.run);
  const Margin margin = Tightest(in);
  CheckResult r = Measured({margin.value, margin.bound, margin.limit.value, Sense::kAtLeast, margin.unit});
  r.result = margin.result;
  r.assumed = !margin.limit.given;
  const int line = in.run.motion.joint_margins[margin.joint].line;
  r.where = NameOf(in, margin.joint) + ", " + Lines(line, line);
  r.why = MarginText(in, margin);
  if (r.result == Result::kUnproven) r.needs = {"a margin farther from the limit"};
  if (r.result == Result::kFail) r.findings = MarginFindings(in);
  return WithSideMargins(in, std::move(r));
}

}  // namespace aircut::verify
