#pragma once

#include <vector>

#include "sim/depth_rays.h"
#include "sim/job.h"

namespace aircut::sim {

/// One place of the design surface, in the piece's own frame S.
struct DesignSample {
  DepthRay ray;
  double area_mm2 = 0.0;
  enum class Role {
    kCarve,      ///< depth counts both ways
    kSpare       ///< only cutting below it counts (the face beside the carving)
  } role = Role::kCarve;
  int path_index = -1;       ///< nearest path line, for engraving; -1 = none
};

/// Spreads samples over the design: where it asks for carving, and over the
/// face beside it as far as the tool comes. For `depth_below_stock` the carving
/// is the line under the path, from the first to the last place of each cut
/// where the tip is at least half as deep as asked (the leads before and after
/// are not carving); a cut that never gets there counts whole. For a picture every place
/// where it asks for depth is carving, along the depth direction from the face.
/// @param spacing_mm largest distance between neighbours, > 0.
/// @param threads >= 1; the result does not depend on it.
std::vector<DesignSample> SampleDesign(const Job& job, double spacing_mm, int threads);

}  // namespace aircut::sim
