#pragma once

#include <string>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/motion.h"
#include "sim/body_mount.h"
#include "sim/collision_world.h"

namespace aircut::sim {

struct ClearancePair { int a = 0, b = 0; };

struct PairClearance {
  int a = 0, b = 0;
  double clearance_mm = 0.0;       ///< smallest distance found, negative = overlap
  double bound_mm = 0.0;           ///< true smallest distance >= clearance - bound, over all time
  double time_s = 0.0;
  int line = 0;
  Eigen::Vector3d p_WA, p_WB;      ///< witness points
  std::string during;              ///< the move beside the path, empty = the job's own motion
  /// Motion in W that the axes under the work had given it by then.
  kinematics::Pose work_motion_W = kinematics::Pose::Identity();
};

struct ClearanceRequest {
  const kinematics::ArmModel* arm = nullptr;
  kinematics::Pose X_WB = kinematics::Pose::Identity();
  const kinematics::MotionTrack* track = nullptr;
  std::vector<int> tool_per_moment;              ///< cutter number in the spindle, per moment
  const CollisionWorld* world = nullptr;
  std::vector<BodyMount> mounts;                 ///< per body
  std::vector<ClearancePair> pairs;
  double enough_mm = 200.0;      ///< clearances above this need not be told apart
  double resolution_mm = 0.05;   ///< bound aimed at between moments
  int threads = 2;
};

/// Smallest clearance of every pair over the whole motion, between the moments
/// as well: joints move evenly between moments, so no point of a body moves
/// farther than sum(abs(dq_j) * reach from axis j), a slide's travel as it is,
/// over all joints between what carries the two bodies; intervals that this bound
/// does not settle are halved. Bit-equal for any number of threads.
std::vector<PairClearance> SmallestClearances(const ClearanceRequest& request);

}  // namespace aircut::sim
