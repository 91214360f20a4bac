#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "kinematics/jacobian.h"
#include "kinematics/manipulability.h"
#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// Makes rates of the tip and of its turn comparable: a tool that stands a metre
// from what turns it.
constexpr double kLength_mm = 1000.0;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

struct Nearest {
  double value = kInfinity, bound = 0.0;
  std::size_t moment = 0;
};

// Tip in the flange, as believed, with the cutter of a path line.
Eigen::Vector3d TipInFlange(const CheckInputs& in, int path_index) {
  const kinematics::PathLine& line = in.job.path[static_cast<std::size_t>(path_index)];
  const double stick_out_mm = in.job.cell.cutters.at(line.tool).stick_out_mm;
  return in.job.cell.X_FH * Eigen::Vector3d(0.0, 0.0, -stick_out_mm);
}

// On the path only: on the ways in joints a singular place costs nothing.
Nearest NearestOf(const CheckInputs& in) {
  const kinematics::MotionTrack& track = in.run.motion.tracks[0];
  Nearest nearest;
  double last = kInfinity;
  for (std::size_t m = 0; m < track.size(); ++m) {
    if (track.phase[m] != kinematics::Phase::kCut && track.phase[m] != kinematics::Phase::kRapid) continue;
    const Eigen::Vector3d p_FT = TipInFlange(in, track.path_index[m]);
    const double value = kinematics::SmallestSingularValue(*in.job.cell.arm, track.q[m], p_FT, kLength_mm);
    if (!std::isnan(nearest.value) && !(value >= nearest.value)) {
      nearest.value = value;
      nearest.moment = m;
      nearest.bound = std::isfinite(last) ? std::abs(value - last) : 0.0;
    }
    last = value;
  }
  return nearest;
}

// Angle between the fourth and the sixth axis, 0 where the wrist is straight [deg].
double WristBend_deg(const CheckInputs& in, std::size_t moment) {
  const kinematics::Jacobian J =
      kinematics::JacobianFromFoot(*in.job.cell.arm, in.run.motion.tracks[0].q[moment]);
  const Eigen::Vector3d fourth = J.col(3).tail<3>(), sixth = J.col(5).tail<3>();
  const double angle_deg = kinematics::DegFromRad(std::atan2(fourth.cross(sixth).norm(), std::abs(fourth.dot(sixth))));
  return angle_deg;
}

const kinematics::JointSpeedDemand* DemandAt(const CheckInputs& in, int path_index) {
  for (const kinematics::JointSpeedDemand& demand : in.run.motion.demands) {
    if (demand.path_index == path_index) return &demand;
  }
  return nullptr;
}

std::string CostText(const sim::Job& job, const kinematics::JointSpeedDemand* demand) {
  if (demand == nullptr) return " No cut runs there, so it costs no feed.";
  return fmt::format(" The written feed asks {:.0f} % of the speed of {} there.", 100.0 * demand->ratio,
                     JointName(job, demand->joint));
}

}  // namespace

// A note, unless it costs speed or the user set a limit.
CheckResult CheckSingularity(const CheckInputs& in) {
  if (!HasMoments(in.run) || in.job.cell.arm == nullptr) return NotFollowed(in.run);
  if (in.job.cell.arm->chain().size() != 6) {
    return Unproven("The arm does not have six joints.", {"an arm of six joints"});
  }
  const Nearest nearest = NearestOf(in);
  if (!std::isfinite(nearest.value)) return Unproven("No line of the path was run.", {"a path with lines"});
  const kinematics::MotionTrack& track = in.run.motion.tracks[0];
  const int line = track.line[nearest.moment];
  const kinematics::JointSpeedDemand* demand = DemandAt(in, track.path_index[nearest.moment]);
  const double limit = in.job.accept.singular_value.value_or(0.0);
  CheckResult r = Measured({nearest.value, nearest.bound, limit, Sense::kAtLeast, ""});
  r.assumed = !in.job.accept.singular_value;
  if (r.assumed) r.result = Result::kPass;   // a note
  r.where = Lines(line, line);
  r.why = fmt::format(
              "The arm is nearest to a singular place at {}: smallest singular value {:.3f} (lengths in "
              "metres), wrist bent by {:.1f} deg.",
              Lines(line, line), nearest.value, WristBend_deg(in, nearest.moment)) +
          CostText(in.job, demand);
  const bool costs = demand != nullptr && Decide(demand->ratio, demand->ratio_bound, 1.0, Sense::kAtMost) == Result::kFail;
  if (costs) r.result = Result::kFail;
  if (r.result == Result::kFail) {
    Finding f;
    f.line = line;
    f.at_S = PlaceOf(in.job, track.path_index[nearest.moment]);
    f.value = nearest.value;
    f.limit = limit;
    f.text = r.why;
    f.cause = "the spin, the lean of the tool or the place of the workpiece straightens the wrist or the elbow";
    r.findings = {f};
  }
  if (r.result == Result::kUnproven) r.needs = {"a pose farther from a singular place"};
  return r;
}

}  // namespace aircut::verify
