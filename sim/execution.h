#pragma once

#include <array>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/error_layer.h"
#include "sim/force_coefficients.h"

namespace aircut::sim {

/// What one layer does to the tool while it makes each sweep, seen from the piece.
struct LayerShift {
  ErrorLayer layer = ErrorLayer::kArm;
  /// One per sweep of the track, in S [mm]: at the good end of all bands, as stated, and
  /// at the bad end (soft spring, large force). Zero where the layer does nothing.
  std::vector<std::array<Eigen::Vector3f, kBandEnds>> of_sweep;
};

/// A layer that was not reckoned, and the keys that would let it.
struct MissingLayer {
  ErrorLayer layer = ErrorLayer::kArm;
  std::string why;                     ///< a sentence
  std::vector<std::string> needs;
};

/// A layer's first-order share held against a cut without that layer.
struct LayerRecut {
  ErrorLayer layer = ErrorLayer::kArm;
  double first_order_mm = 0;           ///< mean over the carved samples, along their depth direction
  double recut_mm = 0;                 ///< the same by two cuts: with all layers, and without this one
};

/// How the path became what the tool really does: forces, displacements, the cut again.
/// Of a run that displaces nothing all is empty.
struct Execution {
  std::vector<LayerShift> layers;      ///< those that act
  /// By how much the commanded motion leaves the written corners. It is cut with in any
  /// case and no part of `layers`; nothing where no corner of a cut is rounded.
  std::optional<LayerShift> corner_rounding;
  std::vector<MissingLayer> missing;   ///< those that nothing is known of
  std::set<ErrorLayer> without;        ///< switched off by the user: a what-if
  int cuts = 1;                        ///< with the nominal one
  double moved_mm = 0;                 ///< largest change of the depth map in the last of them
  double settled_mm = 0;               ///< at most this was asked for
  bool settled = true;                 ///< moved_mm is not more
  std::vector<double> nominal_top_mm;  ///< per sample: RayDepth::top_mm of the undisplaced tool; empty: as executed
  std::vector<LayerRecut> recuts;      ///< of the layer that costs most

  bool displaced() const { return cuts > 1; }
  const LayerShift* Of(ErrorLayer layer) const {
    for (const LayerShift& shift : layers) {
      if (shift.layer == layer) return &shift;
    }
    return nullptr;
  }
};

}  // namespace aircut::sim
