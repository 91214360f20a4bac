#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include <Eigen/Core>

namespace aircut::sim {

/// Sectors about the tool axis in which the engaged arc is told.
inline constexpr int kArcSectors = 32;

/// What one sweep did to the material, in time order with the track.
struct SweepContact {
  std::int64_t removed_units = 0;    ///< material removed, in ContactRecord::unit_mm3
  /// Sums of the lattice places of the removed voxels, for their middle.
  std::array<std::int64_t, 3> place_sums{};
  std::uint32_t arc = 0;       ///< bit s: material went in sector s, counted from the feed
                               ///< direction anticlockwise as seen from the spindle
  float bite_mm = 0.0f;        ///< overlap of cutter and material met, 0 = none
  float bite_bound_mm = 0.0f;  ///< numerical error of bite_mm on smooth faces; 0 = surely clear
  float axial_low_mm = 1e30f;  ///< lowest removed point above the tip, along the axis
  float axial_mm = 0.0f;       ///< highest removed point above the tip, along the axis
  float radial_mm = 0.0f;      ///< farthest removed point from the axis
  float body_bite_mm = 0.0f;   ///< overlap of shank, holder or housing with material
  float body_bound_mm = 0.0f;  ///< numerical error of body_bite_mm; 0 = surely clear
  std::int8_t body = -1;       ///< which body of the tool, -1 = none

  bool cuts() const { return removed_units > 0; }
  bool touches() const { return cuts() || bite_mm > 0.0f || body >= 0; }
};

/// All sweeps of a cut. Sums are integers, so that they add up exactly.
struct ContactRecord {
  std::vector<SweepContact> sweeps;   ///< one per sweep of the track
  double voxel_mm = 0.0;
  double unit_mm3 = 0.0;              ///< what one of removed_units is worth
  double bite_bound_mm = 0.0;         ///< largest bite_bound_mm of any sweep
  Eigen::Vector3d origin_S = Eigen::Vector3d::Zero();   ///< lattice place (0, 0, 0)
  double place_mm = 0.0;              ///< between neighbouring places

  double VolumeOf(const SweepContact& c) const {
    return static_cast<double>(c.removed_units) * unit_mm3;
  }
  /// Middle of what a sweep removed, in S. @throws std::invalid_argument if it removed nothing.
  Eigen::Vector3d MiddleOf(const SweepContact& c) const;
};

/// Angle [rad] about the axis over which a sweep removed material, in whole sectors.
double EngagedArc_rad(const SweepContact& contact);

/// First and last sweep that touches the material with the cutter or a body;
/// first > last where none does.
struct TouchedSpan {
  std::size_t first = 1, last = 0;
  bool empty() const { return first > last; }
};
TouchedSpan TouchedSweeps(const ContactRecord& record);

/// Adds what another part of the space saw of the same sweep; the order of adding
/// does not matter.
void Merge(SweepContact& into, const SweepContact& from);

}  // namespace aircut::sim
