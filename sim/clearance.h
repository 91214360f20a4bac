#pragma once

#include <limits>
#include <string>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/motion.h"
#include "sim/body_mount.h"
#include "sim/collision_world.h"

namespace aircut::sim {

class RemainingPiece;

struct ClearancePair {
  int a = 0, b = 0;
  double limit_mm = 0.0;   ///< every passing nearer than this is listed
};

/// Where and when two bodies were measured.
struct NearPlace {
  double clearance_mm = std::numeric_limits<double>::infinity();   ///< negative = overlap
  double time_s = 0.0;
  int line = 0;
  Eigen::Vector3d p_WA = Eigen::Vector3d::Zero(), p_WB = Eigen::Vector3d::Zero();   ///< witness points
  /// Motion in W that the axes under the work had given it by then.
  kinematics::Pose work_motion_W = kinematics::Pose::Identity();
};

/// An unbroken stretch of time in which two bodies are not shown to be farther apart
/// than some limit.
struct ClosePass {
  double from_s = 0.0, to_s = 0.0;
  int first_line = 0, last_line = 0;
  double lower_mm = 0.0;     ///< no nearer than this in it; of an overlap an estimate
  NearPlace nearest;         ///< the nearest that was measured in it, infinite = nothing
};

struct PairClearance : NearPlace {
  int a = 0, b = 0;
  double bound_mm = 0.0;     ///< true smallest distance >= clearance - bound, over all time
  std::string during;        ///< the move beside the path, empty = the job's own motion
  std::vector<ClosePass> close;     ///< in time order: nearer than the pair's limit, or not shown to be farther
  std::vector<ClosePass> clashes;   ///< the same for a limit of 0: contact
};

/// One stretch of the clearance over time: nothing that was asked about comes nearer
/// than `lower_mm` in it.
struct ClearanceStretch {
  double from_s = 0.0, to_s = 0.0;
  double lower_mm = 0.0;     ///< capped at the request's `enough_mm`
  int pair = -1;             ///< index of the pair that it is, -1 = no pair
  int line = 0;              ///< where that pair came nearest in it, as far as was looked
};

/// A body that is cut in the course of the motion. Its shape is the uncut one; where
/// that comes near a pair's limit, what is left of it at that moment counts.
struct CutBody {
  int body = -1;                             ///< -1 = none
  const RemainingPiece* piece = nullptr;     ///< sweep i runs from moment i to i + 1
};

struct ClearanceRequest {
  const kinematics::ArmModel* arm = nullptr;
  kinematics::Pose X_WB = kinematics::Pose::Identity();
  const kinematics::MotionTrack* track = nullptr;
  std::vector<int> tool_per_moment;              ///< cutter number in the spindle, per moment
  const CollisionWorld* world = nullptr;
  std::vector<BodyMount> mounts;                 ///< per body
  std::vector<ClearancePair> pairs;
  CutBody cut_body;
  double enough_mm = 200.0;      ///< clearances above this need not be told apart
  double resolution_mm = 0.05;   ///< bound aimed at between moments
  int threads = 2;
};

struct ClearanceResult {
  std::vector<PairClearance> pairs;          ///< as requested
  std::vector<ClearanceStretch> over_time;   ///< gapless, in time order
};

/// Smallest clearance of every pair over the whole motion, between the moments
/// as well: joints move evenly between moments, so no point of a body moves
/// farther than sum(abs(dq_j) * reach from axis j), a slide's travel as it is,
/// over all joints between what carries the two bodies. Where that does not settle
/// an interval, a plane between the two bodies is held against every moment of it,
/// and intervals that neither settles are halved. The motion is cut into stretches
/// that are searched on their own: bit-equal for any number of threads.
ClearanceResult SmallestClearances(const ClearanceRequest& request);

}  // namespace aircut::sim
