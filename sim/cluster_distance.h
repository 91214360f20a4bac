#pragma once

#include "sim/triangle_search.h"

namespace aircut::sim {

/// Points that lie within `radius_mm` of `centre`.
struct PointCluster {
  Eigen::Vector3d centre;
  double radius_mm = 0.0;
  const Eigen::Vector3d* points = nullptr;
  int count = 0;
};

/// Signed distances of a cluster of points, in their order, into `distances_mm`.
void ClusterSignedDistances(const TriangleSearch& search, const PointCluster& cluster,
                            double* distances_mm);

}  // namespace aircut::sim
