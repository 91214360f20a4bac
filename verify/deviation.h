#pragma once

#include <optional>
#include <vector>

#include "sim/dry_run.h"
#include "sim/region_limits.h"
#include "verify/fine_features.h"
#include "verify/probable_cause.h"

namespace aircut::verify {

/// A connected patch of the design surface beyond a limit.
struct Region {
  enum class Kind { kGouge, kLeftover } kind = Kind::kGouge;
  double area_mm2 = 0.0;
  double volume_mm3 = 0.0;         ///< too much taken away, or left: depth over the area
  double worst_mm = 0.0;           ///< magnitude
  int worst_sample = -1;
  int first_line = 0, last_line = 0;   ///< path lines that cut here last
  sim::PlaceLimit limit;           ///< of its worst sample
};

/// A value with the interval that holds the true one, whatever the samples
/// without an answer would say; `high` may be infinite.
struct Interval {
  double value = 0.0, low = 0.0, high = 0.0;
};

/// What is known of the error at one sample.
enum class Knowledge : unsigned char {
  kKnown,
  kUnknown,      ///< no starting material here, or no number
  kUnseen,       ///< measured from a face that was not scanned but drawn to close the stock
  kDisputed      ///< grid and rays differ by more than the grid's bound at creases
};

/// Material beyond the leftover limit that no cutter of the path could take away.
struct Unreachable {
  double area_mm2 = 0.0, volume_mm3 = 0.0;
  double deepest_mm = 0.0;
  int deepest_sample = -1;         ///< -1: nothing is out of reach
};

/// Depth over the carve samples that one limit holds for; area-weighted.
struct RegionDepth {
  sim::PlaceLimit limit;
  int places = 0;                  ///< carve samples
  double area_mm2 = 0.0;
  Interval p95;                    ///< of the error's magnitude [mm]
  Interval within;                 ///< share of the area within the limit
  double max_gouge_mm = 0.0, max_leftover_mm = 0.0;   ///< magnitudes, of known samples
  int farthest_sample = -1;        ///< of known ones; -1: none
};

/// Depth error over the design samples: + left standing, - cut too deep [mm].
/// A carve sample counts both ways; a spare sample only where it was cut below.
/// A sample where nothing of the material is left counts by all that is gone.
/// Statistics are of carve samples that are known, area-weighted.
struct Deviation {
  std::vector<double> error_mm;        ///< per sample; NaN where nothing can be said
  std::vector<double> bound_mm;        ///< per sample, numerical and what bands leave open; infinite where unknown or disputed
  std::vector<Knowledge> knowledge;    ///< per sample
  std::vector<double> open_mm;         ///< per sample: left open by the bands of what bends; empty: nothing does
  int carve_samples = 0;
  int unknown_samples = 0;             ///< carve samples without material or number
  double carve_area_mm2 = 0.0;
  double mean_mm = 0, rms_mm = 0, p95_mm = 0;   ///< of carve samples, area-weighted; p95 of abs
  double max_gouge_mm = 0, max_leftover_mm = 0; ///< magnitudes
  double within_tolerance = 0.0;       ///< share of carve area known to lie within the depth limit of its place
  Interval within;                     ///< the same, with what numerical error and unknown samples leave open
  double bound_of_p95_mm = 0.0;        ///< the wider side of `p95`
  double unseen_share = 0.0;           ///< share of carve area below faces that were not scanned
  double disputed_share = 0.0;         ///< share of carve area where grid and rays disagree beyond bounds
  Interval p95;                        ///< [mm]
  /// Deepest level that still holds a patch of region_mm2 [mm]. Where limits differ, levels
  /// are those of equal distance to the limit, told at the sample that closes the patch.
  Interval gouge_depth;
  sim::PlaceLimit gouge_limit;         ///< of that sample
  Interval leftover_depth;             ///< the same above the design [mm]
  sim::PlaceLimit leftover_limit;
  /// One for each limit of depth: the rest of the job first, then the regions that state one.
  std::vector<RegionDepth> by_limit;
  Unreachable unreachable;             ///< no part of it counts as leftover
  std::vector<Region> gouges, leftovers;   ///< beyond their limits, largest first
  /// Of the whole field; nothing where it lies within the depth limit or no cause explains it.
  std::optional<ProbableCause> cause;
  FineFeatures fine;                   ///< of MeasureFineFeatures(), which takes the rest of this
};

/// All but `fine`.
Deviation Measure(const sim::Job& job, const sim::Run& run);

}  // namespace aircut::verify
