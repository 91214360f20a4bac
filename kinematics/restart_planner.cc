#include "kinematics/restart_planner.h"

#include <cmath>
#include <limits>
#include <stdexcept>

#include "kinematics/external_axes.h"
#include "kinematics/joint_room.h"
#include "kinematics/motion_builder.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

// Moments of the joint moves: the searches over them take joints as even anyway.
constexpr double kSag_mm = 2.0;

std::string Rounded(const double value) {
  std::string text = std::to_string(std::round(10.0 * value) / 10.0);
  return text.substr(0, text.find('.') + 2);
}

PlanRequest AsPlanned(const PlanRequest& request, const Motion& motion) {
  const std::size_t lines = request.path.size();
  if (!motion.complete()) throw std::invalid_argument("motion must be complete");
  if (motion.R_ST_per_line.size() != lines || motion.posture_per_line.size() != lines) {
    throw std::invalid_argument("motion.R_ST_per_line, posture_per_line must have one entry per line");
  }
  PlanRequest planned = request;
  planned.spin = SpinRule::kAsWritten;
  planned.sag_mm = kSag_mm;
  planned.progress = nullptr;
  for (std::size_t i = 0; i < lines; ++i) {
    planned.path[i].R_ST = motion.R_ST_per_line[i];
    planned.path[i].axis_S = motion.R_ST_per_line[i].col(2);
  }
  return planned;
}

std::vector<std::size_t> LastMoments(const Motion& motion, const std::size_t lines) {
  const MotionTrack& track = motion.tracks.front();
  std::vector<std::size_t> last(lines, 0);
  for (std::size_t m = 0; m < track.size(); ++m) {
    if (track.path_index[m] >= 0) last[static_cast<std::size_t>(track.path_index[m])] = m;
  }
  return last;
}

PlanFault FaultAt(const SideMove& move, const PlanFaultKind kind, const std::string& what) {
  PlanFault fault;
  fault.kind = kind;
  fault.line = move.line;
  fault.path_index = move.path_index;
  fault.text = "The " + move.name + " " + what;
  return fault;
}

}  // namespace

SidePlanner::SidePlanner(const PlanRequest& request, const Motion& motion, const double back_mm)
    : motion_(motion), back_mm_(back_mm), request_(AsPlanned(request, motion)), targets_(request_),
      follower_(*request_.arm), last_moment_(LastMoments(motion, request.path.size())) {
  if (!(back_mm > 0.0) || !std::isfinite(back_mm)) {
    throw std::invalid_argument("back_mm = " + std::to_string(back_mm) + " must be > 0 and finite");
  }
}

// Where a cutter was changed on the way to the line, the flange is where it was.
StraightMove SidePlanner::Away(const Place& place) const {
  const Pose& X_FT = targets_.X_FT(place.of);
  const Pose X_ST = targets_.X_ST(place.at) * targets_.X_FT(place.at).inverse() * X_FT;
  const Pose X_ST_back = X_ST * Eigen::Translation3d(0.0, 0.0, back_mm_);
  const JointVector external =
      ExternalPart(*request_.arm, motion_.tracks.front().q[last_moment_[place.at]]);
  return StraightMove(request_.X_BS, X_FT, X_ST, X_ST_back, {request_.arm, external, external});
}

SideMove SidePlanner::Solve(const Place& place, const StraightMove& away) const {
  SideMove move;
  move.line = targets_.line(place.of).line;
  move.path_index = static_cast<int>(place.of);
  move.posture = motion_.posture_per_line[place.of];
  const JointVector external = away.External(0.0);
  const JointVector& q_near = motion_.tracks.front().q[last_moment_[place.at]];
  const std::optional<JointVector> q_line =
      follower_.Near(follower_.Solve(away.FlangePose(0.0), external), move.posture, q_near);
  if (!q_line) return move;
  move.q_line = *q_line;
  const PoseSolutions end = follower_.Solve(away.FlangePose(1.0), external);
  if (const auto q_back = follower_.Follow(away, move.posture, *q_line, end)) move.q_back = *q_back;
  return move;
}

SideMove SidePlanner::Restart(const std::size_t path_index) const {
  const Place place{path_index, path_index > 0 ? path_index - 1 : 0};
  const StraightMove away = Away(place);
  SideMove move = Solve(place, away);
  move.name = "restart at line " + std::to_string(move.line);
  if (move.q_back.size() == 0) {
    move.fault = FaultAt(move, PlanFaultKind::kOutOfReach,
                         "is not reached " + Rounded(back_mm_) + " mm behind the start of its cut in the posture of the cut.");
    return move;
  }
  const MoveTag on_the_way{move.line, move.path_index, Phase::kApproach};
  MotionBuilder builder(request_, follower_);
  builder.Start(request_.home, away.X_FT());
  builder.RetagLast(on_the_way);
  for (const JointVector& q : request_.approach) builder.AddJointMove(q, on_the_way);
  builder.AddJointMove(move.q_back, on_the_way);
  const StraightMove down(request_.X_BS, away.X_FT(), away.ToolPose(1.0), away.ToolPose(0.0),
                          {request_.arm, away.External(1.0), away.External(0.0)});
  const StraightOutcome outcome = builder.AddStraightMove(
      down, {move.q_line, move.posture, std::nullopt}, {move.line, move.path_index, Phase::kRapid});
  if (outcome.obstruction != Obstruction::kNone) {
    move.fault = FaultAt(move, PlanFaultKind::kAtSingularity, "passes a singular pose on its way down to the cut.");
    return move;
  }
  move.track = builder.Finish().track;
  move.track.name = move.name;
  while (move.back_moment + 1 < move.track.size() &&
         move.track.phase[move.back_moment + 1] == Phase::kApproach) {
    ++move.back_moment;
  }
  MeasureRoom(move);
  return move;
}

SideMove SidePlanner::Withdrawal(const std::size_t path_index) const {
  const Place place{path_index, path_index};
  const StraightMove away = Away(place);
  SideMove move = Solve(place, away);
  move.name = "withdrawal from line " + std::to_string(move.line);
  if (move.q_back.size() == 0) {
    move.fault = FaultAt(move, PlanFaultKind::kOutOfReach,
                         "does not get " + Rounded(back_mm_) + " mm back along the tool axis in the posture of the cut.");
    return move;
  }
  const MoveTag tag{move.line, move.path_index, Phase::kRapid};
  MotionBuilder builder(request_, follower_);
  builder.Start(move.q_line, away.X_FT());
  builder.RetagLast(tag);
  const StraightOutcome outcome =
      builder.AddStraightMove(away, {move.q_back, move.posture, std::nullopt}, tag);
  if (outcome.obstruction != Obstruction::kNone) {
    move.fault = FaultAt(move, PlanFaultKind::kAtSingularity, "passes a singular pose.");
    return move;
  }
  move.track = builder.Finish().track;
  move.track.name = move.name;
  move.back_moment = move.track.size() - 1;
  MeasureRoom(move);
  return move;
}

void SidePlanner::MeasureRoom(SideMove& move) const {
  move.margin = {std::numeric_limits<double>::infinity(), move.line, move.path_index, false};
  JointRoom least;
  // External axes stand where the motion has them, or go evenly between two such
  // places: its own margins hold for them.
  const int joints = static_cast<int>(request_.arm->chain().size());
  for (const JointVector& q : move.track.q) {
    for (int joint = 0; joint < joints; ++joint) {
      const JointRoom room = RoomOf(*request_.arm, q, joint);
      if (room.room_rad >= move.margin.margin_rad) continue;
      move.margin.margin_rad = room.room_rad;
      move.margin.of_sum = room.of_sum;
      move.margin_joint = joint;
      least = room;
    }
  }
  if (move.margin.margin_rad >= 0.0) return;
  PlanFault fault = FaultAt(move, PlanFaultKind::kOutOfRange,
                            "takes " + NameOfJoint(move.margin_joint) + " " +
                                Rounded(DegFromRad(-move.margin.margin_rad)) + " deg beyond its range.");
  fault.joint = move.margin_joint;
  fault.value = -move.margin.margin_rad;
  fault.limit = least.value_rad < least.lower_rad ? least.lower_rad : least.upper_rad;
  move.fault = fault;
}

}  // namespace aircut::kinematics
