#pragma once

#include <array>
#include <optional>
#include <vector>

#include "verify/check.h"

namespace aircut::verify {

/// Where a line of rays is laid across passes.
struct CrossPlace {
  int sample = -1;              ///< the line goes through it, its rays along the sample's own
  Eigen::Vector3d across_S;     ///< square to the passes; need not be unit nor square to the ray
  double half_mm = 0.0;         ///< reach to either side, > 0
  double step_mm = 0.0;         ///< between rays, > 0
};

/// Rays over one stepover that show ridges and floors well enough: what hides between them is
/// then a tenth of the ridge or less (ball).
inline constexpr double kRaysAcross = 24.0;

/// Passes that lie side by side on a line of rays, with what stands between them. Heights are
/// over the design, along the surface's normal.
struct CrossPair {
  double ridge_mm = 0.0;          ///< above the higher floor
  double ridge_hidden_mm = 0.0;   ///< the true ridge is at most this much higher; 0: not measured, since the
                                  ///< cutters differ or the line ends before a floor
  double step_mm = 0.0;           ///< between both floors, >= 0
  double step_bound_mm = 0.0;     ///< 0: not measured, since a floor was cut away or lies beyond the line
  int high_sweep = -1, low_sweep = -1;   ///< that left the higher floor and the lower one
  double lean = 1.0;              ///< height along the normal over height along the rays
  double apart_mm = 0.0;          ///< stepover: the passes' distance across the feed, in space
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();   ///< of the design, under the border between them
  /// The cut's heights over the design along the rays, and the places of the design under
  /// them: at the border, and lowest within three quarters of a stepover to either side.
  struct Height {
    Eigen::Vector3d p_S = Eigen::Vector3d::Zero();
    double mm = 0.0;
  };
  Height top;
  std::array<Height, 2> floors;
};

/// Cuts the lines by exact rays, all at once, and reads each: one list of pairs a place,
/// in order along the line. Empty where the design's height is not known.
std::vector<std::vector<CrossPair>> MeasureAcross(const CheckInputs& in, const std::vector<CrossPlace>& places);

}  // namespace aircut::verify
