#include "verify/neighbour_cells.h"

namespace aircut::verify {

NeighbourCells::NeighbourCells(const std::vector<Eigen::Vector3d>& points, double edge_mm)
    : points_(points), edge_(edge_mm) {
  std::size_t buckets = 16;
  while (buckets < points.size()) buckets *= 2;
  first_.assign(buckets, -1);
  next_.assign(points.size(), -1);
  if (!points.empty()) least_ = most_ = CellOf(points.front());
  for (std::size_t i = points.size(); i-- > 0;) {
    const Eigen::Array3i cell = CellOf(points[i]);
    least_ = least_.min(cell);
    most_ = most_.max(cell);
    const std::size_t bucket = BucketOf(cell);
    next_[i] = first_[bucket];
    first_[bucket] = static_cast<int>(i);
  }
}

}  // namespace aircut::verify
