#pragma once

#include <optional>

#include "sim/iso6983_words.h"
#include "sim/path_source.h"

namespace aircut::sim {

/// How far a move goes, as its words count it and as the workpiece sees it.
struct IsoTravel {
  double words_mm = 0.0;    ///< along X Y Z, or along the arc
  double stock_mm = 0.0;    ///< of the control point in S
  double turn_deg = 0.0;    ///< of A B C: root of the sum of squares
};

/// Feed of a cut, and its time where the file states it.
struct IsoPace {
  double feed_mm_s = 0.0;
  std::optional<double> duration_s;
};

/// The feed in force: G93, G94 or G95 and the last F.
class IsoFeed {
 public:
  explicit IsoFeed(std::optional<double> default_mm_s) : default_mm_s_(default_mm_s) {}

  /// Takes G93 to G95 and F of the block. @throws PathFault for F without a mode or not > 0.
  void Take(const IsoBlock& block);
  /// Drops the feed: its unit is not the same any more.
  void Drop() { value_.reset(); }
  /// Whether a cut takes the time that its own F gives.
  bool IsInverseTime() const { return mode_ == 93; }

  /// @param scale_mm  length of one unit of the words; @param spindle_rpm  signed.
  /// @throws PathFault if the block's cut has no feed.
  IsoPace PaceOf(const IsoBlock& block, const IsoTravel& travel, double scale_mm, double spindle_rpm) const;

 private:
  IsoPace InverseTime(const IsoBlock& block, const IsoTravel& travel) const;

  std::optional<double> default_mm_s_;   // for a path without F
  int mode_ = 0;                         // 93, 94, 95; 0 before the first
  std::optional<double> value_;          // F as written
  bool has_seen_f_ = false;
};

}  // namespace aircut::sim
