#pragma once

#include "sim/job.h"

namespace aircut::sim {

enum class Tolerance { kDepth, kGouge, kLeftover };

/// The limit of a place, and whose it is.
struct PlaceLimit {
  double value_mm = 0.0;
  int region = -1;          ///< index in AcceptLimits::regions, -1: that of the whole job
};

/// The tightest limit of the regions that hold the place and state one; without such
/// a region that of the whole job, be it tighter or wider.
PlaceLimit LimitAt(const AcceptLimits& accept, Tolerance which, const Eigen::Vector3d& p_S);

/// @returns the limit of the whole job.
const Limit& LimitOfJob(const AcceptLimits& accept, Tolerance which);

/// @returns what a region states; nothing: as everywhere.
const std::optional<double>& LimitOfRegion(const AcceptRegion& region, Tolerance which);

}  // namespace aircut::sim
