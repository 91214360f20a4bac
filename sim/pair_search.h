#pragma once

#include <limits>
#include <optional>
#include <vector>

#include "sim/chain_motion.h"
#include "sim/clearance.h"
#include "sim/close_passes.h"

namespace aircut::sim {

/// The two bodies of a pair, `outer` the one whose way is bounded: the one farther
/// out in the line of carriers, never a half space.
struct PairBodies {
  int outer = 0, inner = 0;
  bool swapped = false;            ///< outer is the request's b
  bool moves = false;              ///< the two have different carriers
  BodyMount outer_mount, inner_mount;
  int outer_carrier = 0, inner_carrier = 0;
  double limit_mm = 0.0;
  const RemainingPiece* remaining = nullptr;   ///< inner is cut in the course of the motion
};

PairBodies ArrangePair(const ClearanceRequest& request, const CarrierLine& line, const ClearancePair& pair);

/// What is known of a pair when its search over a stretch begins.
struct PairKnowledge {
  double measured_mm = std::numeric_limits<double>::infinity();   ///< somewhere in the whole motion
  double told_apart_mm = 0.0;    ///< bounds above this are good enough for the stretch
};

/// What a search over a stretch found of one pair.
struct PairFind {
  NearPlace nearest;             ///< smallest distance measured
  double floor_mm = std::numeric_limits<double>::infinity();   ///< nothing in the stretch is below
  /// Where the least lower bound was, and that bound; nothing: never there together.
  std::optional<int> nearest_moment;
  double nearest_lower_mm = std::numeric_limits<double>::infinity();
  std::vector<PassSpan> close, clashes;
};

/// Searches one pair over the moments of one stretch. Pure.
PairFind SearchPair(const ClearanceRequest& request, const PairBodies& bodies, const ChainMoments& moments,
                    const PairKnowledge& known);

/// Distance of the pair's bodies at one moment of the stretch, or a lower bound of it
/// above `stop_above_mm`. Infinite where the two are not there together.
double PairDistanceAt(const ClearanceRequest& request, const PairBodies& bodies, const ChainMoments& moments,
                      int i, double stop_above_mm);

}  // namespace aircut::sim
