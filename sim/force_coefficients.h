#pragma once

#include <array>
#include <optional>
#include <vector>

#include "sim/cell.h"
#include "sim/job.h"

namespace aircut::sim {

/// Ends of the band in which a material's coefficients lie, and its middle.
enum BandEnd { kLeast = 0, kNominal = 1, kMost = 2 };
inline constexpr int kBandEnds = 3;

/// Force on an edge of a cutter, an element of it `ds` long along the outline that cuts a
/// chip of thickness h: d(tangential, radial, axial) = (cutting h + edge) ds. Tangential
/// is against the edge's velocity, radial is into the tool square to its outline, axial
/// along the outline towards the tip. Source of the form: Altintas, Manufacturing
/// Automation (from memory); external check CUT-23 prints it for MDF.
struct ForceCoefficients {
  std::array<double, 3> cutting_n_mm2{};   ///< tangential, radial, axial; a chip's area times this
  std::array<double, 3> edge_n_mm{};       ///< the same of the edge: its length times this
};

/// The coefficients of a material at both ends of its band and between.
struct ForceBand {
  std::array<ForceCoefficients, kBandEnds> at;
  std::vector<AssumedValue> assumed;       ///< parts that the material does not state
};

/// Parts that are not stated come from a printed band: radial and axial as shares of the
/// tangential part, the edge's as a length times the cutting one.
/// @returns nothing for a material without a tangential cutting force.
std::optional<ForceBand> ForceBandOf(const Material& material);

}  // namespace aircut::sim
