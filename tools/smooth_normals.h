#pragma once

#include <vector>

#include "sim/mesh.h"

namespace aircut::tools {

/// Normals of a coarse mesh, averaged over its area so that they turn slowly
/// from place to place where those of the faces jump.
class SmoothNormals {
 public:
  /// @param radius_mm reach of the average; @param piece_mm size to which faces
  /// are split for it, well below the radius.
  SmoothNormals(const sim::Mesh& mesh, double radius_mm, double piece_mm);

  /// @returns the unit normal at a point on or near the surface: face normals
  /// within the radius, weighted by area and by (1 - (d / radius)^2)^2. Faces
  /// turned more than a right angle from `side` (another sheet) do not count.
  /// @throws std::runtime_error if no face is in reach.
  Eigen::Vector3d At(const Eigen::Vector3d& p, const Eigen::Vector3d& side) const;

 private:
  struct Piece {
    Eigen::Vector3d centre, normal_area;
  };
  double radius_mm_;
  std::vector<Piece> pieces_;
};

}  // namespace aircut::tools
