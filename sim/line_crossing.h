#pragma once

#include <array>
#include <optional>

#include <Eigen/Core>
#include <Eigen/Geometry>

namespace aircut::sim {

/// Crossings of one line with triangles, such that over a closed mesh every
/// entry has its exit, whatever edges and corners the line goes through:
/// the corners are sheared to a plane square to the line (the same for every
/// triangle that shares a corner), sides are judged by the exact sign of a
/// determinant, and a side through the line itself is judged as if the line
/// were moved by (e, e^2) for an endlessly small e.
/// Sources: Woop, Benthin, Wald, Journal of Computer Graphics Techniques 2(1)
/// 2013 (shear); Edelsbrunner, Muecke, ACM Trans. Graphics 9(1) 1990 (ties).
class LineCrossing {
 public:
  /// @param direction unit vector.
  LineCrossing(const Eigen::Vector3d& origin, const Eigen::Vector3d& direction);

  struct Crossing {
    double t_mm = 0.0;
    bool entering = false;
  };
  std::optional<Crossing> With(const std::array<Eigen::Vector3d, 3>& corner) const;

 private:
  Eigen::Vector3d origin_;
  int kx_, ky_, kz_;
  double shear_x_, shear_y_, per_z_;
};

}  // namespace aircut::sim
