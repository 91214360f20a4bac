#pragma once

#include <string>
#include <vector>

#include "verify/check.h"

namespace aircut::verify {

/// One thing that is not known exactly, as what it does to the depth: a standard
/// uncertainty (JCGM 100, 2.3.1). It widens the answer; it is no error that is there.
struct Uncertainty {
  std::string source;
  double u_mm = 0.0;       ///< >= 0
  bool shared = false;     ///< the same all over the carving (a shift); else it differs from place to place
};

/// What nobody said, though the depth hangs on it.
struct UnknownUncertainty {
  std::string why;         ///< a sentence
  std::string need;        ///< the key that would settle it
};

/// First-order budget of the depth (JCGM 100, 5.1.2; domain notes C11): sources do not
/// depend on each other, each moves the depth in proportion.
struct DepthUncertainty {
  std::vector<Uncertainty> of;               ///< largest first
  std::vector<UnknownUncertainty> unknown;
  double k = 0.0;                            ///< coverage factor of the job's confidence, two-sided, normal

  /// @returns the root of the sum of squares [mm].
  double u_mm() const;
  /// @returns k times that.
  double expanded_mm() const { return k * u_mm(); }
  /// @returns the part of the combined variance that one of `of` has, 0 where there is none.
  double ShareOf(const Uncertainty& one) const;
};

/// Looks at: where the piece lies (touched points: the mean leverage p / N of a fit of p
/// parameters to N points; else the frame's fit at its target error), the arm from place to
/// place (its stated accuracy, rectangular, over the extent of the carving), from time to
/// time (ISO 9283 repeatability, mean and three standard deviations, so a third), the bit's
/// length as measured, drift, and the bands of what bends (rectangular).
DepthUncertainty DepthUncertaintyOf(const CheckInputs& in);

/// @param confidence in (0, 1). @returns how many standard deviations to both sides hold
/// that share of a normal distribution: 1.960 for 0.95.
double CoverageFactor(double confidence);

}  // namespace aircut::verify
