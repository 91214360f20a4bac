#pragma once

#include <memory>

#include "sim/mesh_index.h"

namespace aircut::sim {

/// Outward normals of a surface, averaged over a disc: what a coarse scan would
/// have if it were smooth. Immutable; any thread.
class SurfaceNormals {
 public:
  /// @param radius_mm of the disc that is averaged over, > 0.
  /// @param around_S only needed near these points (with some margin).
  /// @param threads >= 1; the result does not depend on it.
  SurfaceNormals(const MeshIndex& surface_S, double radius_mm, const Eigen::AlignedBox3d& around_S,
                 int threads);
  ~SurfaceNormals();
  SurfaceNormals(SurfaceNormals&&) noexcept;

  struct Foot {
    Eigen::Vector3d p_S;       ///< nearest point of the surface
    Eigen::Vector3d normal_S;  ///< unit, averaged over the disc about it, own side only
  };
  Foot At(const Eigen::Vector3d& p_S) const;

 private:
  struct Impl;
  std::unique_ptr<const Impl> impl_;
};

}  // namespace aircut::sim
