#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <Eigen/Geometry>

namespace aircut::sim {

/// A part of the workpiece that is judged by limits of its own.
struct AcceptRegion {
  std::string name;
  Eigen::AlignedBox3d box_S;                  ///< holds all of it; an outline reaches over all heights
  std::vector<Eigen::Vector2d> outline_S;     ///< x and y, the last joined to the first; empty: the box alone
  std::optional<double> depth_mm, gouge_mm, leftover_mm;   ///< > 0; nothing: as everywhere

  /// Whether a place lies in it. The border belongs to a box; of an outline either
  /// side of the border may be told, and what it encloses twice is outside.
  bool Holds(const Eigen::Vector3d& p_S) const;
};

}  // namespace aircut::sim
