#pragma once

#include <optional>

#include "kinematics/motion.h"
#include "sim/execution.h"
#include "sim/job.h"

namespace aircut::sim {

/// By how much the commanded tip leaves the written corner, where the control rounds it.
/// Along the bisector of the corner: the way inside the corner over the written way below it,
/// so that in its middle the shift is the corner's own deviation. A sweep has the larger
/// shift of its two ends, the same at every end of the band. Only corners between cuts count.
/// @param X_WS_actual pose of the piece in the world. @returns shifts in S as the piece
/// really lies; nothing where no corner of a cut is rounded or the path cannot be followed.
std::optional<LayerShift> CornerRoundingOf(const Job& job, const kinematics::Motion& motion,
                                           const kinematics::Pose& X_WS_actual);

}  // namespace aircut::sim
