#pragma once

#include <cstdint>
#include <vector>

#include "sim/depth_rays.h"

namespace aircut::sim {

/// A ray from the top of its piece of material down to lo_mm.
struct CellRay {
  const DepthRay* ray = nullptr;
  double lo_mm = 0.0;
  RayDepth* depth = nullptr;   ///< what is cut is written here
};

/// Sweeps of a track that come near some rays.
struct NearSweeps {
  const ToolTrack* track = nullptr;
  const std::int32_t* first = nullptr;
  const std::int32_t* last = nullptr;
};

/// Cuts rays that lie near each other. They are split into ever smaller groups, and
/// with each group go only the sweeps that may lower a ray of it: for a whole group
/// it is cheap to see that the tool fills it down to some depth, and that another
/// sweep stays above that.
void CutCell(std::vector<CellRay> rays, const NearSweeps& sweeps);

}  // namespace aircut::sim
