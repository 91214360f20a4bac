#pragma once

#include <vector>

#include "sim/cell_bodies.h"

namespace aircut::sim {

/// What the clearance along a track is searched with.
struct TrackClearanceTask {
  const Job& job;
  const CollisionWorld& world;
  const std::vector<BodyMount>& mounts;    ///< of the world's bodies
  int threads = 2;
  /// Clearances above this, or above twice what a pair must keep, need not be told
  /// apart: the search is the quicker the less it is.
  double enough_mm = 200.0;
  CutBody cut_body = {};     ///< in the motion that cuts
};

/// Smallest clearance of the pairs along a motion of the job's arm, as
/// SmallestClearances gives them, with the part of a straight move in which joints
/// leave the even run added to the bounds.
ClearanceResult ClearancesAlong(const TrackClearanceTask& task, const kinematics::MotionTrack& track,
                                const std::vector<ClearancePair>& pairs);

/// No point of what stands on the axes under the work can be faster, with every
/// axis at its largest speed [mm/s]; 0 where there is none.
double MostWorkSpeed_mm_s(const TrackClearanceTask& task);

/// Pairs of cutter, shank and holder with the uncut piece: no clash in a cut, but
/// one where the tool must stay in the air.
std::vector<ClearancePair> ToolAgainstPiece(const std::vector<BodyKind>& kinds);

}  // namespace aircut::sim
