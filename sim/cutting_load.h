#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include "sim/contact_record.h"
#include "sim/force_coefficients.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// Edges and spin of each sweep, beside what the track tells.
struct CuttingTool {
  int flutes = 0;
  bool right_handed = true;
};
struct SpindleRates {
  std::vector<CuttingTool> tools;    ///< one per tool of the track
  std::vector<double> rpm;           ///< one per sweep, >= 0; 0 = not turning
};

/// Load of one sweep on the cutter. Forces are those on the tool, in S; a mean is over
/// one turn, a peak the largest of the turn. Arrays go by BandEnd.
struct SweepLoad {
  std::int32_t sweep = 0;
  float feed_mm_s = 0;               ///< of the tip, as run
  float rpm = 0;
  float feed_per_tooth_mm = 0;       ///< travel of the tip from tooth to tooth
  float chip_most_mm = 0;            ///< thickest chip of the turn, square to the outline
  float chip_bound_mm = 0;           ///< how far chip_most_mm may be off, by the voxel at the top of the cut
  float chip_mean_mm = 0;            ///< chip area over edge length, where there is a chip
  float removed_mm3_s = 0;
  float arc_rad = 0;                 ///< engaged
  float depth_mm = 0;                ///< engaged height along the axis
  float radius_mm = 0;               ///< largest engaged radius
  float height_mm = 0;               ///< of the middle of the force above the tip, along the axis
  /// Removed volume over that of the engaged heights and arc: 1 where they are full;
  /// small where what was cut is a sliver of them.
  float share = 0;
  std::array<Eigen::Vector3f, kBandEnds> mean_S_n{};
  std::array<Eigen::Vector3f, kBandEnds> peak_S_n{};       ///< at the angle where it is largest
  std::array<float, kBandEnds> torque_nm{};                ///< mean
  std::array<float, kBandEnds> torque_peak_nm{};
  std::array<float, kBandEnds> power_w{};                  ///< mean, at the cutter
};

/// What the whole job does to the cutter, by the material's band.
struct CuttingLoad {
  std::vector<SweepLoad> sweeps;         ///< those that cut with a turning cutter, in time order
  std::vector<std::int32_t> of_sweep;    ///< per sweep of the track: index into `sweeps`, -1 = none
  /// Sweeps that bite more than kContact_mm in a rapid, in no time, or not turning.
  std::size_t beyond_model = 0;
  std::optional<ForceBand> force;        ///< what forces were reckoned with; without it they are zero

  const SweepLoad* Of(std::size_t sweep) const {
    const std::int32_t i = sweep < of_sweep.size() ? of_sweep[sweep] : -1;
    return i < 0 ? nullptr : &sweeps[static_cast<std::size_t>(i)];
  }
};

struct CuttingLoadTask {
  const ToolTrack& track;
  const ContactRecord& contacts;         ///< of that track
  const SpindleRates& rates;
  std::optional<ForceBand> force;        ///< nothing: chips only
  int threads = 2;
};

/// Load of every sweep that cuts. Teeth are straight, evenly spaced and run true; engaged
/// heights and arc are those of the contact record, over a travel of two voxels about
/// the sweep, so that one of less than a voxel is not left to the lattice.
/// @throws std::invalid_argument where the sizes of track, contacts and rates differ.
CuttingLoad ComputeCuttingLoad(const CuttingLoadTask& task);

/// A change of the job that leaves its shape: feed and depth per pass times these.
struct CutChange {
  double feed = 1.0, depth = 1.0;
};
/// @returns the load of one sweep after the change, nothing where none can be reckoned. At a
/// smaller depth the same share of heights and arc is taken to be in material.
std::optional<SweepLoad> ChangedLoad(const CuttingLoadTask& task, std::size_t sweep, const CutChange& change);

}  // namespace aircut::sim
