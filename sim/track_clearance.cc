#include "sim/track_clearance.h"

#include <algorithm>
#include <cmath>

#include "sim/executed_track.h"

namespace aircut::sim {
namespace {

// Longest reach of the bodies with some carrier from its origin.
double ReachOn(const TrackClearanceTask& task, BodyMount::On on) {
  double reach = 0.0;
  for (int i = 0; i < task.world.body_count(); ++i) {
    const BodyMount& mount = task.mounts[static_cast<std::size_t>(i)];
    if (mount.on != on) continue;
    reach = std::max(reach, mount.X_MA.translation().norm() + task.world.ReachFrom(i, {0.0, 0.0, 0.0}));
  }
  return reach;
}

using Weight = double (*)(const kinematics::JointSpec& axis, kinematics::ExternalKind kind);

// What the external axes of one side can do to bodies that reach so far from B,
// with all those axes at 0: the sum of the reaches from the axes, 1 for a slide,
// each times the weight of its axis.
double SideLever(const kinematics::ArmModel& arm, kinematics::ExternalSide side, double reach,
                 Weight weight) {
  double sum = 0.0;
  for (std::size_t k = arm.externals().size(); k-- > 0;) {
    const kinematics::ExternalAxis& axis = arm.externals()[k];
    if (axis.side != side) continue;
    const kinematics::JointSpec& joint = arm.joints()[arm.chain().size() + k];
    if (axis.kind == kinematics::ExternalKind::kSlide) {
      sum += weight(joint, axis.kind);
      reach += std::max(std::abs(joint.lower_rad), std::abs(joint.upper_rad)) + std::abs(joint.zero_rad);
    } else {
      sum += weight(joint, axis.kind) * (reach + axis.p_B.norm());
      reach += 2.0 * axis.p_B.norm();
    }
  }
  return sum;
}

double Chord(const kinematics::JointSpec&, kinematics::ExternalKind kind) {
  return kind == kinematics::ExternalKind::kSlide ? kinematics::kSlideChord_mm : kinematics::kJointChord_rad;
}

// The search takes joints as running evenly between moments; in a straight move
// they do so only within a small angle. How far a carried body can be moved by
// that: the angle times the longest reach from each joint, straight arm or not.
struct ChordBounds {
  double on_arm_mm = 0.0, on_work_mm = 0.0;
};

ChordBounds ChordsOf(const TrackClearanceTask& task) {
  const kinematics::ArmModel& arm = *task.job.cell.arm;
  double reach = ReachOn(task, BodyMount::On::kLink);
  double sum = 0.0;
  for (auto joint = arm.chain().rbegin(); joint != arm.chain().rend(); ++joint) {
    reach += joint->after.translation().norm();
    sum += reach;
    reach += joint->before.translation().norm();
  }
  return {kinematics::kJointChord_rad * sum + SideLever(arm, kinematics::ExternalSide::kTool, reach, Chord),
          SideLever(arm, kinematics::ExternalSide::kWork, ReachOn(task, BodyMount::On::kWork), Chord)};
}

// What the carriers of both bodies add; two on the arm are moved by the same joints.
double ChordBound_mm(const TrackClearanceTask& task, const ClearancePair& pair, const ChordBounds& chords) {
  const BodyMount::On a = task.mounts[static_cast<std::size_t>(pair.a)].on,
                      b = task.mounts[static_cast<std::size_t>(pair.b)].on;
  const bool arm = a == BodyMount::On::kLink || b == BodyMount::On::kLink;
  const bool work = a == BodyMount::On::kWork || b == BodyMount::On::kWork;
  return (arm ? chords.on_arm_mm : 0.0) + (work ? chords.on_work_mm : 0.0);
}

}  // namespace

ClearanceResult ClearancesAlong(const TrackClearanceTask& task, const kinematics::MotionTrack& track,
                                const std::vector<ClearancePair>& pairs) {
  ClearanceRequest request;
  request.arm = task.job.cell.arm.get();
  request.X_WB = task.job.cell.X_WB;
  request.track = &track;
  request.tool_per_moment = ToolPerMoment(task.job, track);
  request.world = &task.world;
  request.mounts = task.mounts;
  request.pairs = pairs;
  request.cut_body = task.cut_body;
  request.enough_mm = task.enough_mm;
  for (const ClearancePair& pair : pairs) request.enough_mm = std::max(request.enough_mm, 2.0 * pair.limit_mm);
  request.threads = task.threads;
  const ChordBounds chords = ChordsOf(task);
  // Where the chord may make up the difference the pass is listed too.
  for (ClearancePair& pair : request.pairs) pair.limit_mm += ChordBound_mm(task, pair, chords);
  ClearanceResult result = SmallestClearances(request);
  for (std::size_t p = 0; p < result.pairs.size(); ++p) {
    result.pairs[p].bound_mm += ChordBound_mm(task, request.pairs[p], chords);
  }
  for (ClearanceStretch& stretch : result.over_time) {
    if (stretch.pair < 0) continue;
    stretch.lower_mm -= ChordBound_mm(task, request.pairs[static_cast<std::size_t>(stretch.pair)], chords);
  }
  return result;
}

double MostWorkSpeed_mm_s(const TrackClearanceTask& task) {
  return SideLever(
      *task.job.cell.arm, kinematics::ExternalSide::kWork, ReachOn(task, BodyMount::On::kWork),
      [](const kinematics::JointSpec& axis, kinematics::ExternalKind) { return axis.speed_rad_s; });
}

std::vector<ClearancePair> ToolAgainstPiece(const std::vector<BodyKind>& kinds) {
  std::vector<ClearancePair> pairs;
  for (int a = 0; a < static_cast<int>(kinds.size()); ++a) {
    const BodyKind tool = kinds[static_cast<std::size_t>(a)];
    if (tool != BodyKind::kTool && tool != BodyKind::kCutter) continue;
    for (int b = 0; b < static_cast<int>(kinds.size()); ++b) {
      if (kinds[static_cast<std::size_t>(b)] == BodyKind::kPiece) pairs.push_back({a, b});
    }
  }
  return pairs;
}

}  // namespace aircut::sim
