#include "sim/track_clearance.h"

#include "sim/executed_track.h"

namespace aircut::sim {
namespace {

// The search takes joints as running evenly between moments; in a straight move
// they do so only within a small angle. How far any carried body can be moved by
// that: the angle times the longest reach from each joint, straight arm or not.
double ChordBound_mm(const TrackClearanceTask& task) {
  double reach = 0.0;
  for (int i = 0; i < task.world.body_count(); ++i) {
    const BodyMount& mount = task.mounts[static_cast<std::size_t>(i)];
    if (mount.on != BodyMount::On::kLink) continue;
    reach = std::max(reach, mount.X_MA.translation().norm() + task.world.ReachFrom(i, {0.0, 0.0, 0.0}));
  }
  double sum = 0.0;
  const auto& chain = task.job.cell.arm->chain();
  for (auto joint = chain.rbegin(); joint != chain.rend(); ++joint) {
    reach += joint->after.translation().norm();
    sum += reach;
    reach += joint->before.translation().norm();
  }
  return kinematics::kJointChord_rad * sum;
}

}  // namespace

std::vector<PairClearance> ClearancesAlong(const TrackClearanceTask& task,
                                           const kinematics::MotionTrack& track,
                                           const std::vector<ClearancePair>& pairs) {
  ClearanceRequest request;
  request.arm = task.job.cell.arm.get();
  request.X_WB = task.job.cell.X_WB;
  request.track = &track;
  request.tool_per_moment = ToolPerMoment(task.job, track);
  request.world = &task.world;
  request.mounts = task.mounts;
  request.pairs = pairs;
  request.enough_mm = std::max(task.enough_mm, 2.0 * task.job.accept.clearance_mm.value);
  request.threads = task.threads;
  std::vector<PairClearance> clearances = SmallestClearances(request);
  const double chord_mm = ChordBound_mm(task);
  for (PairClearance& pair : clearances) pair.bound_mm += chord_mm;
  return clearances;
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
