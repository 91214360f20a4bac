#include "sim/region_limits.h"

namespace aircut::sim {

const Limit& LimitOfJob(const AcceptLimits& accept, Tolerance which) {
  switch (which) {
    case Tolerance::kGouge: return accept.gouge_mm;
    case Tolerance::kLeftover: return accept.leftover_mm;
    case Tolerance::kDepth: break;
  }
  return accept.depth_mm;
}

const std::optional<double>& LimitOfRegion(const AcceptRegion& region, Tolerance which) {
  switch (which) {
    case Tolerance::kGouge: return region.gouge_mm;
    case Tolerance::kLeftover: return region.leftover_mm;
    case Tolerance::kDepth: break;
  }
  return region.depth_mm;
}

PlaceLimit LimitAt(const AcceptLimits& accept, Tolerance which, const Eigen::Vector3d& p_S) {
  PlaceLimit tightest;
  for (std::size_t i = 0; i < accept.regions.size(); ++i) {
    const std::optional<double>& limit_mm = LimitOfRegion(accept.regions[i], which);
    if (!limit_mm || !accept.regions[i].Holds(p_S)) continue;
    if (tightest.region < 0 || *limit_mm < tightest.value_mm) tightest = {*limit_mm, static_cast<int>(i)};
  }
  if (tightest.region < 0) tightest.value_mm = LimitOfJob(accept, which).value;
  return tightest;
}

}  // namespace aircut::sim
