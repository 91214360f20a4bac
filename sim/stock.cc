#include "sim/stock.h"

#include <algorithm>
#include <cmath>

namespace aircut::sim {
namespace {

int FloorDiv(int a, int b) { return a >= 0 ? a / b : -((-a + b - 1) / b); }

}  // namespace

double Stock::ValueAt(int i, int j, int k) const {
  const Eigen::Vector3i at(FloorDiv(i, kBrickEdge), FloorDiv(j, kBrickEdge), FloorDiv(k, kBrickEdge));
  const bool in_lattice = (at.array() >= 0).all() && (at.array() < lattice.bricks.array()).all();
  if (in_lattice) {
    const std::int64_t index =
        at.x() + std::int64_t{lattice.bricks.x()} * (at.y() + std::int64_t{lattice.bricks.y()} * at.z());
    const std::int32_t brick = brick_of[static_cast<std::size_t>(index)];
    if (brick >= 0) {
      const Eigen::Vector3i in = Eigen::Vector3i(i, j, k) - kBrickEdge * at;
      const int voxel = in.x() + kBrickEdge * (in.y() + kBrickEdge * in.z());
      return unit_mm() *
             bricks[static_cast<std::size_t>(brick)].distance[static_cast<std::size_t>(voxel)];
    }
  }
  const double limit = kTruncation_voxel * lattice.voxel_mm;
  return std::clamp(solid_S->SignedDistance(lattice.Centre(i, j, k)), -limit, limit);
}

double Stock::DistanceAt(const Eigen::Vector3d& p_SQ) const {
  const Eigen::Vector3d x = (p_SQ - lattice.origin_S) / lattice.voxel_mm;
  const Eigen::Vector3d base = x.array().floor();
  const Eigen::Vector3d f = x - base;
  const Eigen::Vector3i c = base.cast<int>();
  double sum = 0.0;
  for (int n = 0; n < 8; ++n) {
    const int dx = n & 1, dy = n >> 1 & 1, dz = n >> 2;
    const double weight = (dx ? f.x() : 1.0 - f.x()) * (dy ? f.y() : 1.0 - f.y()) *
                          (dz ? f.z() : 1.0 - f.z());
    if (weight > 0.0) sum += weight * ValueAt(c.x() + dx, c.y() + dy, c.z() + dz);
  }
  return sum;
}

}  // namespace aircut::sim
