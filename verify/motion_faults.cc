#include "verify/motion_faults.h"

#include <algorithm>

#include "kinematics/external_axes.h"
#include "kinematics/joint_room.h"
#include "kinematics/inverse_kinematics.h"
#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {

using kinematics::PlanFault;
using kinematics::PlanFaultKind;

std::optional<Eigen::Vector3d> PlaceOf(const sim::Job& job, int path_index) {
  if (path_index < 0 || path_index >= static_cast<int>(job.path.size())) return std::nullopt;
  return job.path[path_index].p_ST;
}

Eigen::Vector3d PlaceInWork(const sim::Run& run, const sim::NearPlace& place) {
  const Eigen::Vector3d middle_W = 0.5 * (place.p_WA + place.p_WB);
  return (place.work_motion_W * run.X_WS_actual).inverse() * middle_W;
}

std::string JointName(const sim::Job& job, int joint) {
  const bool known = job.cell.arm != nullptr && joint >= 0 && joint < job.cell.arm->joint_count();
  return !known ? kinematics::NameOfJoint(joint) : kinematics::NameOfJoint(*job.cell.arm, joint);
}

bool SlidesIn(const sim::Job& job, int joint) {
  return job.cell.arm != nullptr && joint >= 0 && joint < job.cell.arm->joint_count() &&
         kinematics::IsSlide(*job.cell.arm, joint);
}

bool HasMoments(const sim::Run& run) {
  if (!run.motion.complete()) return false;
  const kinematics::MotionTrack& track = run.motion.tracks[0];
  const std::size_t moments = track.size();
  return track.q.size() == moments && track.line.size() == moments && track.phase.size() == moments &&
         track.path_index.size() == moments;
}

bool IsSure(const sim::Job& job, const PlanFault& fault) {
  if (job.cell.arm == nullptr || kinematics::HasClosedForm(*job.cell.arm)) return true;
  if (fault.path_index < 0) return true;   // joints that the cell states
  return fault.kind == PlanFaultKind::kOutOfReach && fault.value > 0.0;
}

void LeaveOpenIfUnsure(CheckResult* result) {
  const auto is_sure = [](const Finding& f) { return f.sure; };
  if (std::any_of(result->findings.begin(), result->findings.end(), is_sure)) return;
  result->result = Result::kUnproven;
  result->why += " The postures of this arm are searched, so another one may do.";
  result->needs = {"a place of the workpiece or a spin at which the search finds a way, or another arm"};
}

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
      if (SlidesIn(in.job, fault.joint)) f.unit = "mm";
      f.sure = false;
      findings.push_back(f);
    }
    Finding& f = findings.back();
    f.sure = f.sure || IsSure(in.job, fault);
    if (!follows || fault.value > f.value) {
      f.value = fault.value;
      f.text = fault.text;
      f.at_S = PlaceOf(in.job, fault.path_index);
    }
    last = &fault;
  }
  return findings;
}

namespace {

std::string NoMotionReason(const sim::Run& run) {
  if (run.motion.faults.empty()) return "No motion was planned.";
  const PlanFault& first = run.motion.faults.front();
  return "The arm could not follow the path beyond " + Lines(first.line, first.line) +
         " (see reach, joint-range, posture-change).";
}

}  // namespace

CheckResult NotFollowed(const sim::Run& run) {
  return Unproven(NoMotionReason(run), {"a path that the arm can follow"});
}

CheckResult FailedBy(const CheckInputs& in, std::vector<Finding> findings, const std::string& cause) {
  CheckResult r;
  r.result = Result::kFail;
  for (Finding& f : findings) f.cause = cause;
  const Finding& first = findings.front();
  r.why = first.text;
  r.where = Lines(first.line, first.lines.empty() ? first.line : first.lines[1]);
  r.findings = std::move(findings);
  LeaveOpenIfUnsure(&r);
  // What helps a searched arm was not looked for, nor is it sure where its run breaks.
  if (in.job.cell.arm == nullptr || kinematics::HasClosedForm(*in.job.cell.arm)) {
    for (const kinematics::SplitAdvice& advice : in.run.motion.splits) r.findings.front().cause += ". " + advice.text;
  }
  TrimFindings(&r);
  return r;
}

}  // namespace aircut::verify
