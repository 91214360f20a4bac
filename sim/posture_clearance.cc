#include "sim/posture_clearance.h"

#include <algorithm>
#include <utility>

namespace aircut::sim {

PostureClearance::PostureClearance(const Job& job, const kinematics::Pose& X_WS_actual)
    : PostureClearance(job, BodiesOf(job, X_WS_actual)) {}

PostureClearance::PostureClearance(const Job& job, CellBodies cell)
    : job_(job), line_(*job.cell.arm), mounts_(std::move(cell.mounts)), pairs_(std::move(cell.pairs)),
      world_(std::move(cell.bodies)) {}

double PostureClearance::Beyond_mm(const kinematics::JointVector& q, const std::size_t path_index) const {
  std::vector<kinematics::Pose> X_WC;
  line_.AppendPoses(q, job_.cell.X_WB, &X_WC);
  const int tool = job_.path[path_index].tool;
  double beyond_mm = 0.0;
  for (const ClearancePair& pair : pairs_) {
    const BodyMount& a = mounts_[static_cast<std::size_t>(pair.a)];
    const BodyMount& b = mounts_[static_cast<std::size_t>(pair.b)];
    if ((a.tool != 0 && a.tool != tool) || (b.tool != 0 && b.tool != tool)) continue;
    const auto pose = [&](const BodyMount& mount) -> kinematics::Pose {
      // In the room things stand by W itself.
      if (mount.on == BodyMount::On::kWorld) return mount.X_MA;
      return X_WC[static_cast<std::size_t>(line_.CarrierOf(mount))] * mount.X_MA;
    };
    const double distance_mm = world_.Distance(pair.a, pose(a), pair.b, pose(b), pair.limit_mm).distance_mm;
    beyond_mm = std::min(beyond_mm, distance_mm - pair.limit_mm);
  }
  return beyond_mm;
}

}  // namespace aircut::sim
