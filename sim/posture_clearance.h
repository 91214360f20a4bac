#pragma once

#include "sim/carrier_line.h"
#include "sim/cell_bodies.h"
#include "sim/collision_world.h"

namespace aircut::sim {

/// How much room the cell leaves an arm that stands still: what the choice of spin
/// and posture asks. Only the search over time (ClearancesAlong) shows that a
/// motion keeps clear.
class PostureClearance {
 public:
  /// @param X_WS_actual where the touched points put the piece. Keeps a reference
  /// to the job, which has an arm.
  PostureClearance(const Job& job, const kinematics::Pose& X_WS_actual);

  /// @param q panel values; @param path_index the line whose cutter is in the spindle.
  /// @returns the smallest distance of all pairs of bodies less what the job
  /// accepts [mm]; below 0 where a body comes too near. Larger values are cut off at 0.
  double Beyond_mm(const kinematics::JointVector& q, std::size_t path_index) const;

 private:
  PostureClearance(const Job& job, CellBodies cell);

  const Job& job_;
  CarrierLine line_;
  std::vector<BodyMount> mounts_;
  std::vector<ClearancePair> pairs_;
  CollisionWorld world_;
};

}  // namespace aircut::sim
