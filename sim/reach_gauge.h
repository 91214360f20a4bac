#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/contact_record.h"
#include "sim/sweep_kernel.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// A cutter's outline as its radius over the height above the tip end, for ReachMove.
std::vector<OutlineRow> OutlineRows(const Cutter& cutter);

/// How the kernels tell with which part of the cutter one sweep met a place. The moment is
/// taken where the tip passes nearest across the axis; on a slope the tool reaches a point
/// up to one radius earlier, which is added to its height.
/// @param sweep index into track.sweeps. @param first_S first voxel centre of the brick.
/// @param rows of the sweep's cutter; they stay the caller's.
ReachMove MakeReachMove(const ToolTrack& track, int sweep, const Eigen::Vector3d& first_S,
                        const std::vector<OutlineRow>& rows);

}  // namespace aircut::sim
