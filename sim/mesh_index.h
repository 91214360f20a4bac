#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "sim/inside_by.h"
#include "sim/mesh.h"

namespace aircut::sim {

/// Exact closest point, sign and ray queries on a triangle mesh, in double.
/// Bounding-volume tree over the triangles; immutable, used from any thread.
class MeshIndex {
 public:
  /// @throws std::invalid_argument if the mesh has no triangle or a value that
  /// is not finite.
  /// @param inside_by with kWindingNumbers every border of the mesh must be closed
  /// (whole winding numbers off the surface); building costs one of them a triangle.
  explicit MeshIndex(Mesh mesh, InsideBy inside_by = InsideBy::kNormals);
  ~MeshIndex();
  MeshIndex(MeshIndex&&) noexcept;

  const Mesh& mesh() const;
  const Eigen::AlignedBox3d& box() const;

  struct Closest {
    double distance_mm = 0.0;   ///< >= 0
    int triangle = -1;
    Eigen::Vector3d point;
  };
  /// @returns the nearest point of the surface, within 1e-9 mm.
  /// @param within_mm search radius; triangle = -1 if nothing lies inside it.
  Closest ClosestPoint(const Eigen::Vector3d& p, double within_mm = 1e30) const;

  /// Signed distance [mm]: negative inside. Sign by the angle-weighted
  /// pseudo-normal at the closest point (Baerentzen and Aanaes, IEEE TVCG
  /// 11(3) 2005), or by the winding number where the mesh asks for it.
  double SignedDistance(const Eigen::Vector3d& p) const;

  /// Signed distances of many points that lie near each other: points within
  /// `radius_mm` of `centre`. One tree walk, then the few triangles that can
  /// be nearest are tried for each point.
  void SignedDistances(const Eigen::Vector3d& centre, double radius_mm,
                       const Eigen::Vector3d* points, int count, double* distances_mm) const;

  struct Hit {
    double t_mm = 0.0;
    bool entering = false;      ///< the ray goes from outside to inside here
  };
  /// All crossings of the line origin + t * direction (unit) for t in
  /// [t_min, t_max], sorted by t; a crossing through an edge or vertex counts once,
  /// and with kWindingNumbers only where the solid begins or ends.
  std::vector<Hit> Crossings(const Eigen::Vector3d& origin, const Eigen::Vector3d& direction,
                             double t_min, double t_max) const;
  /// The same into a list that is used again and again.
  void Crossings(const Eigen::Vector3d& origin, const Eigen::Vector3d& direction,
                 double t_min, double t_max, std::vector<Hit>& hits) const;

 private:
  struct Impl;
  std::unique_ptr<const Impl> impl_;
};

}  // namespace aircut::sim
