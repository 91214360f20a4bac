#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "kinematics/joint_compliance.h"
#include "kinematics/external_axes.h"
#include "kinematics/units.h"
#include "sim/springs.h"
#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::JointVector;

constexpr double kStands_rad = 1e-9;
constexpr double kJacobian_mm = 1e-6;    // numerical error of a lever in double

// Joints that turn back while the cutter is in the material, at one moment.
struct Reversal {
  std::size_t sweep = 0;
  std::vector<std::size_t> joints;
  double jump_mm = 0;            ///< all of them together, along the depth direction
  std::size_t worst_joint = 0;
  double worst_mm = 0;
};

// Depth direction of each sweep that decides a place; the tool axis stands for others.
std::map<std::size_t, Eigen::Vector3d> DepthDirections(const sim::Run& run) {
  std::map<std::size_t, Eigen::Vector3d> up;
  for (std::size_t i = 0; i < run.depths.size(); ++i) {
    if (run.depths[i].sweep >= 0) up.emplace(static_cast<std::size_t>(run.depths[i].sweep), run.samples[i].ray.up_S);
  }
  return up;
}

class Search {
 public:
  Search(const CheckInputs& in, std::vector<double> lost_rad)
      : in_(in), motion_(in.run.motion.tracks[0]), lost_rad_(std::move(lost_rad)), up_(DepthDirections(in.run)) {}

  std::vector<Reversal> Find() const {
    std::vector<Reversal> found;
    std::vector<int> way(lost_rad_.size(), 0);
    for (std::size_t s = 0; s < in_.run.track.sweeps.size() && s + 1 < motion_.q.size(); ++s) {
      Reversal here;
      here.sweep = s;
      for (std::size_t j = 0; j < way.size(); ++j) {
        const auto row = static_cast<Eigen::Index>(j);
        const double step = motion_.q[s + 1][row] - motion_.q[s][row];
        if (std::abs(step) <= kStands_rad) continue;
        const int now = step > 0 ? 1 : -1;
        if (way[j] != 0 && now != way[j] && lost_rad_[j] > 0.0) here.joints.push_back(j);
        way[j] = now;
      }
      if (here.joints.empty() || !InMaterial(s)) continue;
      Measure(&here);
      found.push_back(here);
    }
    return found;
  }

 private:
  // It marks the piece where the cutter is in it before and after.
  bool InMaterial(std::size_t s) const {
    const auto& contacts = in_.run.cut.contact.sweeps;
    return s > 0 && s < contacts.size() && contacts[s].cuts() && contacts[s - 1].cuts() &&
           !in_.run.track.sweeps[s].rapid;
  }

  void Measure(Reversal* here) const {
    const sim::Cell& cell = in_.job.cell;
    const JointVector& q = motion_.q[here->sweep];
    const auto& tool = in_.run.track.tools[static_cast<std::size_t>(in_.run.track.sweeps[here->sweep].tool)];
    const Eigen::Vector3d tip_F = cell.X_FH * Eigen::Vector3d(0, 0, -cell.cutters.at(tool.number).measured_stick_out_mm);
    const Eigen::Matrix3Xd shifts_A = kinematics::JointShifts(*cell.arm, q, tip_F, lost_rad_);
    Eigen::Matrix3d R_SA = in_.run.X_WS_actual.linear().transpose() * cell.X_WB.linear();
    if (!cell.arm->externals().empty()) {
      const JointVector e = kinematics::ExternalPart(*cell.arm, q);
      R_SA = R_SA * kinematics::TableMotion(*cell.arm, e).linear().transpose() * kinematics::FootPose(*cell.arm, e).linear();
    }
    const auto up = up_.find(here->sweep);
    const Eigen::Vector3d up_S = up != up_.end() ? up->second : in_.run.track.axis_S[here->sweep];
    for (const std::size_t j : here->joints) {
      const double jump_mm = std::abs(up_S.dot(R_SA * shifts_A.col(static_cast<Eigen::Index>(j))));
      here->jump_mm += jump_mm;
      if (jump_mm < here->worst_mm) continue;
      here->worst_mm = jump_mm;
      here->worst_joint = j;
    }
  }

  const CheckInputs& in_;
  const kinematics::MotionTrack& motion_;
  std::vector<double> lost_rad_;
  std::map<std::size_t, Eigen::Vector3d> up_;
};

double ArcMinutes(double angle_rad) { return 60.0 * kinematics::DegFromRad(angle_rad); }

Finding FindingOf(const CheckInputs& in, const Reversal& at, double lost_rad, double limit_mm) {
  Finding f;
  f.line = in.run.track.sweeps[at.sweep].line;
  f.time_s = TimeOfSweep(in.run, at.sweep);
  f.at_S = in.run.track.p_ST[at.sweep];
  f.value = at.jump_mm;
  f.limit = limit_mm;
  f.unit = "mm";
  f.text = fmt::format("At {} joint {} turns back in the cut: the depth jumps by {:.3f} mm.", Lines(f.line, f.line),
                       at.worst_joint + 1, at.jump_mm);
  f.cause = fmt::format("joint {0} loses {1:.2g} arcmin; {2:.2g} arcmin would pass, or a spin, posture or place with which "
                        "joint {0} does not turn back in the cut", at.worst_joint + 1, ArcMinutes(lost_rad),
                        ArcMinutes(lost_rad * limit_mm / at.jump_mm));
  return f;
}

}  // namespace

CheckResult CheckLostMotion(const CheckInputs& in) {
  if (!in.run.motion.complete() || !in.run.executed) return NotFollowed(in.run);
  const auto lost_rad = sim::LostMotionOf(in.job.cell);
  if (!lost_rad) {
    return Unproven("What motion the joints lose when they reverse was not said.",
                    {"`arm.joints[].lost_motion_arcmin` of every joint"});
  }
  std::vector<Reversal> found = Search(in, *lost_rad).Find();
  std::stable_sort(found.begin(), found.end(),
                   [](const Reversal& a, const Reversal& b) { return a.jump_mm > b.jump_mm; });
  const sim::Limit& limit = in.job.accept.lost_motion_mm;
  const double worst_mm = found.empty() ? 0.0 : found.front().jump_mm;
  CheckResult r = Measured({worst_mm, kJacobian_mm, limit.value, Sense::kAtMost, "mm"});
  r.assumed = !limit.given;
  if (found.empty()) {
    r.why = "No joint turns back while the cutter is in the material.";
    return r;
  }
  const int line = in.run.track.sweeps[found.front().sweep].line;
  r.where = Lines(line, line);
  r.why = fmt::format("Joints turn back in the cut at {}; the depth jumps most at {}, by {:.3f} mm of joint {}{}. Preload "
                      "and gravity may hide part of it.", Plural(static_cast<std::int64_t>(found.size()), "place"),
                      Lines(line, line), worst_mm, found.front().worst_joint + 1,
                      LimitText(limit, fmt::format("{:.3f} mm", limit.value)));
  if (r.result != Result::kFail) return r;
  for (const Reversal& at : found) {
    if (!(at.jump_mm - kJacobian_mm > limit.value)) break;
    r.findings.push_back(FindingOf(in, at, (*lost_rad)[at.worst_joint], limit.value));
  }
  TrimFindings(&r);
  return r;
}

}  // namespace aircut::verify
