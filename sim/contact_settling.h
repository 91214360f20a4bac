#pragma once

#include <cstdint>

#include "sim/swept_cut.h"

namespace aircut::sim {

/// Depth of contact that must not be in rapids, with the spindle not as it should,
/// and of bodies: more is material removed or pushed, less a tool that leaves its
/// own groove. Source: design, section 6.
inline constexpr double kContact_mm = 0.05;

/// Where the voxels are too coarse to tell whether such a contact is one, its
/// places are cut again with finer ones, halved until it is told, kContact_mm is more
/// than distances are kept, or the work would grow beyond kMostFineBricks. Puts the finer bites, and their bounds, into the
/// record; nothing else of the cut changes.
/// @returns how many contacts were looked at again.
std::int64_t SettleContacts(const ToolTrack& track, const CutOptions& options, GridCut& cut);

/// Bricks about the open places that one look may hold; few of them are cut, since the
/// tool comes near to few.
inline constexpr double kMostFineBricks = 400000;

}  // namespace aircut::sim
