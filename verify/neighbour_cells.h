#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Core>

namespace aircut::verify {

/// Points in cubes of one edge, for finding those near a place: built in O(n), the
/// neighbours of a place come in one order only.
class NeighbourCells {
 public:
  /// @param edge_mm > 0; neighbours are found up to this far.
  NeighbourCells(const std::vector<Eigen::Vector3d>& points, double edge_mm);

  /// Calls visit(index) for every point within `edge_mm` of `p`.
  template <typename Visit>
  void ForNear(const Eigen::Vector3d& p, const Visit& visit) const {
    const Eigen::Array3i centre = CellOf(p);
    for (int n = 0; n < 27; ++n) {
      const Eigen::Array3i cell = centre + Eigen::Array3i(n % 3 - 1, n / 3 % 3 - 1, n / 9 - 1);
      if ((cell < least_).any() || (cell > most_).any()) continue;
      for (int i = first_[BucketOf(cell)]; i >= 0; i = next_[static_cast<std::size_t>(i)]) {
        const Eigen::Vector3d& q = points_[static_cast<std::size_t>(i)];
        // Other cells may share the bucket.
        if ((q - p).squaredNorm() <= edge_ * edge_ && (CellOf(q) == cell).all()) visit(i);
      }
    }
  }

 private:
  Eigen::Array3i CellOf(const Eigen::Vector3d& p) const {
    return (p / edge_).array().floor().cast<int>();
  }
  std::size_t BucketOf(const Eigen::Array3i& c) const {
    const std::uint64_t h = static_cast<std::uint64_t>(c.x()) * 0x9E3779B97F4A7C15u ^
                            static_cast<std::uint64_t>(c.y()) * 0xC2B2AE3D27D4EB4Fu ^
                            static_cast<std::uint64_t>(c.z()) * 0x165667B19E3779F9u;
    return static_cast<std::size_t>(h >> 20) & (first_.size() - 1);
  }

  std::vector<Eigen::Vector3d> points_;
  Eigen::Array3i least_ = Eigen::Array3i::Zero(), most_ = Eigen::Array3i::Zero();   ///< cells that hold any
  double edge_;
  std::vector<int> first_, next_;   ///< chains of points by bucket, ascending
};

}  // namespace aircut::verify
