#pragma once

#include <optional>
#include <string>
#include <variant>

#include "sim/mesh_mending.h"

namespace aircut::sim {

/// What lies behind an open scan: as much material as was measured, or a plane.
struct ScanBack {
  Eigen::Vector3d seen_from_S = Eigen::Vector3d::UnitZ();   ///< unit, from the piece to the scanner
  struct Plane {
    Eigen::Vector3d through_S = Eigen::Vector3d::Zero();
    Eigen::Vector3d normal_S = Eigen::Vector3d::UnitZ();    ///< unit, towards the scanner
  };
  std::variant<double, Plane> is = 0.0;   ///< thickness along seen_from_S [mm], > 0; or the plane
};

/// The part of an open scan that its solid is made of.
struct ScanSurface {
  MendedMesh mended;                    ///< the largest connected part, holes bridged
  double largest_left_out_mm2 = 0.0;    ///< area of the largest other part
  double seen_mm2 = 0.0;                ///< area square to the view: towards the scanner less away from it
};

/// Tidies an open scan and bridges its holes as the scanner would see them. A border is a
/// hole where it goes clockwise seen from the scanner, else the rim. @param mesh_S welded.
ScanSurface SurfaceOfScan(const Mesh& mesh_S, const Eigen::Vector3d& seen_from_S);

/// @returns how far the back lies below a place of the surface, along the view [mm].
double DepthOfBack(const Eigen::Vector3d& p_S, const ScanBack& back);

/// @returns the least depth of the back below the surface [mm]; not above zero: no solid.
double LeastDepth(const Mesh& surface_S, const ScanBack& back);

/// The closed solid: the surface, the same moved down to the back and turned round, and
/// a skirt along every border. Winding numbers of it are whole, also where the scan
/// overhangs or is not a manifold.
MendedMesh SolidOfScan(MendedMesh surface, const ScanBack& back);

}  // namespace aircut::sim
