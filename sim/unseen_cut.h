#pragma once

#include <array>
#include <vector>

#include "sim/scan_space.h"
#include "sim/stock.h"
#include "sim/stock_faces.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// The cut in one kind of unseen space.
struct UnseenShare {
  double travel_mm = 0.0;            ///< the tip's way while the cutter reaches in; rapids too
  int first_line = 0, last_line = 0; ///< path lines that do
  double deepest_mm = 0.0;           ///< below the face that stands in, along the view
  double time_s = 0.0;               ///< of the deepest place
  Eigen::Vector3d at_S = Eigen::Vector3d::Zero();   ///< that place
  double removed_mm3 = 0.0;          ///< of the solid's own voxels
};

/// Where the path cuts what the scan has not seen.
struct UnseenCut {
  std::array<UnseenShare, 4> shares;   ///< by Seen; that of kKnown stays empty
  const UnseenShare& Of(Seen seen) const { return shares[static_cast<std::size_t>(seen)]; }
};

/// Follows the cutter's envelope, up to the top of the flutes, through the space about
/// the scan: 16 points on each of 13 rings, every millimetre of its way. What it enters
/// by less than kUnseenTouch_mm does not count.
/// @param cut the material after the last sweep. @throws std::invalid_argument without `back`.
UnseenCut FindUnseenCut(const StockFaces& faces, const Stock& cut, const ToolTrack& track);

inline constexpr double kUnseenTouch_mm = 0.05;

}  // namespace aircut::sim
