#pragma once

#include <optional>
#include <vector>

#include "verify/cause_modes.h"

namespace aircut::verify {

/// A cause with the size that fits the field best.
struct FittedCause {
  CauseKind kind = CauseKind::kFrameZ;
  double size = 0.0;             ///< in the unit of the mode: mm, rad, or 1 for a scale
  double standard_error = 0.0;   ///< of the size, if the places were independent; 0 where nothing is fitted
  int cutter = 0;                ///< of kOtherCutter: its number in the cell
};

/// A single or double cause and how much of the field it explains.
struct CauseFit {
  std::vector<FittedCause> parts;   ///< one or two
  /// Of the weighted sum of squares of the errors, over what the roughness of the cut leaves.
  double share = 0.0;
};

/// What probably made the deviation field.
struct ProbableCause {
  CauseFit best;
  std::vector<CauseFit> rivals;     ///< explain nearly as much here, best first; as many parts as `best`
  int places = 0;                   ///< of the field that were fitted
};

/// A cause that explains less is not named. Ridges that a cutter leaves are one-sided, so
/// that their own mean explains part of them: 5/9 of parabolas, 3/4 of triangles.
inline constexpr double kLeastShare = 0.8;
inline constexpr double kRivalWithin = 0.03;   ///< of the best share: looks alike
inline constexpr double kSecondGains = 0.05;   ///< a second cause must explain this much more

/// The cause that explains most of the field by weighted least squares, a double one only
/// where its second part gains kSecondGains. No cause is returned where none explains
/// kLeastShare of the field, or where the roughness of the cut is most of it.
std::optional<ProbableCause> FindCause(const CauseField& field);

/// @returns every single cause that fits, the largest share first.
std::vector<CauseFit> SingleCauses(const CauseField& field);

}  // namespace aircut::verify
