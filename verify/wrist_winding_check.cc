#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::DegFromRad;

// Domain knowledge, rows 13 and 44 (engineering judgement, no source).
constexpr double kMargin_deg = 10.0;
constexpr double kAngleBound_deg = 0.01;
constexpr Eigen::Index kFourth = 3, kSixth = 5;

// How far joints wind from where they stand at home.
struct Winding {
  double fourth_deg = 0.0, sixth_deg = 0.0, twist_deg = 0.0;
  int twist_line = 0;
};

Winding WindingOf(const kinematics::MotionTrack& track) {
  Winding winding;
  const kinematics::JointVector& home = track.q.front();
  for (std::size_t m = 0; m < track.size(); ++m) {
    const double fourth = DegFromRad(track.q[m][kFourth] - home[kFourth]);
    const double sixth = DegFromRad(track.q[m][kSixth] - home[kSixth]);
    winding.fourth_deg = std::fmax(winding.fourth_deg, std::abs(fourth));
    winding.sixth_deg = std::fmax(winding.sixth_deg, std::abs(sixth));
    if (!(std::abs(fourth + sixth) <= winding.twist_deg)) {
      winding.twist_deg = std::abs(fourth + sixth);
      winding.twist_line = track.line[m];
    }
  }
  return winding;
}

// The joint of the two that comes nearer to an end of its range.
std::size_t TighterJoint(const kinematics::Motion& motion) {
  const double fourth = motion.joint_margins[kFourth].margin_rad;
  return fourth <= motion.joint_margins[kSixth].margin_rad ? kFourth : kSixth;
}

Finding FindingAt(int line, double value_deg, double limit_deg, const std::string& text) {
  Finding f;
  f.line = line;
  f.value = value_deg;
  f.limit = limit_deg;
  f.unit = "deg";
  f.text = text;
  f.cause = "the spin winds up along the path, or the arm starts in a wound-up posture";
  return f;
}

}  // namespace

CheckResult CheckWristWinding(const CheckInputs& in) {
  const kinematics::Motion& motion = in.run.motion;
  if (!HasMoments(in.run)) return NotFollowed(in.run);
  if (motion.joint_margins.size() <= kSixth) {
    return Unproven("The arm does not have six joints.", {"an arm of six joints"});
  }
  const Winding winding = WindingOf(motion.tracks[0]);
  const std::size_t joint = TighterJoint(motion);
  const double margin_deg = DegFromRad(motion.joint_margins[joint].margin_rad);
  const sim::Limit& twist = in.job.accept.wrist_twist_deg;
  CheckResult r = Measured({margin_deg, kAngleBound_deg, kMargin_deg, Sense::kAtLeast, "deg"});
  r.assumed = true;
  const int line = motion.joint_margins[joint].line;
  r.where = fmt::format("joint {}, {}", joint + 1, Lines(line, line));
  r.why = fmt::format("From home joint 4 turns by at most {:.0f} deg, joint 6 by {:.0f} deg, both together by {:.0f} deg; "
                      "joint {} keeps {:.1f} deg to its end.",
                      winding.fourth_deg, winding.sixth_deg, winding.twist_deg, joint + 1, margin_deg);
  if (r.result == Result::kFail) r.findings.push_back(FindingAt(line, margin_deg, kMargin_deg, r.why));
  if (in.job.cell.hose == sim::Declared::kNone) return r;
  const Result twisted = Decide(winding.twist_deg, kAngleBound_deg, twist.value, Sense::kAtMost);
  if (twisted == Result::kPass) return r;
  const std::string text = fmt::format("The hose is twisted by {:.0f} deg at {}{}.", winding.twist_deg,
                                       Lines(winding.twist_line, winding.twist_line),
                                       LimitText(twist, fmt::format("{:.0f} deg", twist.value)));
  r.why += " " + text;
  const bool is_there = in.job.cell.hose == sim::Declared::kGiven;
  if (is_there && twisted == Result::kFail) {
    r.findings.push_back(FindingAt(winding.twist_line, winding.twist_deg, twist.value, text));
    r.result = Result::kFail;
  } else if (r.result == Result::kPass) {
    r.result = Result::kUnproven;
    r.needs = {"`bodies.hose`: its bodies, or none"};
  }
  return r;
}

}  // namespace aircut::verify
