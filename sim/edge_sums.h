#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include <Eigen/Core>

#include "sim/contact_record.h"
#include "sim/cutter_outline.h"

namespace aircut::sim {

/// What of a cutter is engaged and how it moves, in a frame on its tip end: x the way
/// ahead across the axis, y to the left as seen from the spindle, z up the axis.
struct EdgeEngagement {
  double low_mm = 0, high_mm = 0;                      ///< engaged heights above the tip
  /// Share of each sector about the axis that is engaged, counted as SweepContact::arc,
  /// and the mean of the unit vectors (ahead, left) over that share.
  std::array<double, kArcSectors> sector{};
  std::array<Eigen::Vector2d, kArcSectors> way{};
  /// Travel from tooth to tooth of the axis' point at height z: `travel_mm + z turn`.
  Eigen::Vector3d travel_mm = Eigen::Vector3d::Zero();
  Eigen::Vector3d turn = Eigen::Vector3d::Zero();      ///< 0 where the axis keeps its direction

  /// Sectors of a contact record; a lone gap between two engaged sectors is closed.
  void TakeArc(std::uint32_t arc);
  /// The arc between two angles from the way ahead, anticlockwise, `to` > `from`.
  void TakeArc(double from_rad, double to_rad);
};

/// One edge in one sector, summed along the outline over the engaged heights where the
/// chip has a thickness h > 0. n is the outline's outward normal (n_r, n_z).
struct SectorSums {
  double chip_mm2 = 0, chip_r_mm2 = 0, chip_z_mm2 = 0;   ///< of h, h n_r, h n_z
  double edge_mm = 0, edge_r_mm = 0, edge_z_mm = 0;      ///< of 1, n_r, n_z
  double chip_lever_mm3 = 0, edge_lever_mm2 = 0;         ///< of h r, r
};

struct EdgeSums {
  std::array<SectorSums, kArcSectors> sector;   ///< weighted by the engaged share
  std::array<Eigen::Vector2d, kArcSectors> way; ///< unit vector to the middle of that share
  double chip_most_mm = 0;                      ///< thickest chip
  double chip_mean_mm = 0;                      ///< chip area over edge length; 0 without a chip
  double height_mm = 0;                         ///< of the chips' middle above the tip
  /// Volume that one tooth takes from what it has engaged.
  double tooth_mm3 = 0;
};

/// The chip is the travel from tooth to tooth along the normal of the outline: this holds
/// thinning by radial engagement and by the lead of ball, cone and corner, plunges and
/// turning axes. Teeth are straight and evenly spaced. Exact along the outline but for
/// the ends of a partial chip; about the axis chips are exact, forces good to 0.2 %.
EdgeSums SumEdges(const CutterOutline& outline, const EdgeEngagement& engaged);

/// Thickest chip at one height above the tip.
double ThickestChip_mm(const CutterOutline& outline, const EdgeEngagement& engaged, double z_mm);

}  // namespace aircut::sim
