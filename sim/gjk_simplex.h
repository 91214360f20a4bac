#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>

namespace aircut::sim {

/// A point of the difference of two solids, with the points it came from.
struct GjkVertex {
  Eigen::Vector3d w, p_A, p_B;
};

/// Up to four vertices whose hull is searched for the point nearest the origin.
/// After Reduce only the vertices that carry that point are left.
class GjkSimplex {
 public:
  bool Has(const Eigen::Vector3d& w) const;
  void Add(const GjkVertex& vertex) { vertex_[count_++] = vertex; }

  /// Keeps the smallest face that holds the nearest point.
  /// @returns true if the origin lies inside the tetrahedron.
  bool Reduce();

  Eigen::Vector3d Closest() const;
  Eigen::Vector3d PointA() const;
  Eigen::Vector3d PointB() const;

 private:
  struct Face {
    int count = 0;
    int index[3] = {0, 0, 0};
    double weight[3] = {0, 0, 0};
    double distance2 = 0.0;
  };
  Face OnPoint(int i) const;
  Face OnSegment(int i, int j) const;
  Face OnTriangle(int i, int j, int k) const;
  void Keep(const Face& face);

  int count_ = 0;
  GjkVertex vertex_[4];
  double weight_[4] = {0, 0, 0, 0};
};

}  // namespace aircut::sim
