#pragma once

#include "kinematics/motion.h"
#include "sim/job.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// Tool poses in the piece's own frame S where the piece really lies, from the
/// planned motion: believed joints, actual tool lengths, actual piece.
/// @param X_WS_actual pose of the piece in the world.
ToolTrack TrackFromMotion(const Job& job, const kinematics::MotionTrack& motion,
                          const kinematics::Pose& X_WS_actual);

/// Time that the file gives the move between two path lines [s]: the written
/// duration, or else the tip's travel over the written feed. A rapid takes none,
/// and neither does a line where the arm already is. The dwell is not in it.
double WrittenTime_s(const kinematics::PathLine& from, const kinematics::PathLine& to);

/// The same from the written path alone, for a path that the arm cannot follow:
/// one moment a line, when it is reached; times are those written and the dwells.
ToolTrack TrackFromPath(const Job& job, const kinematics::Pose& X_WS_actual);

/// Cutter number in the spindle at every moment of the motion.
std::vector<int> ToolPerMoment(const Job& job, const kinematics::MotionTrack& motion);

}  // namespace aircut::sim
