#pragma once

#include <algorithm>
#include <limits>

#include "sim/convex_core.h"

namespace aircut::sim {

/// What a branch-and-bound search for the nearest pair of parts has found: the nearest
/// so far, and the least bound of what it left out as too far.
class GapRecord {
 public:
  /// @param stop_above_mm nothing beyond it need be told apart.
  explicit GapRecord(double stop_above_mm) : stop_above_mm_(stop_above_mm) {
    best_.distance_mm = best_.lower_mm = std::numeric_limits<double>::infinity();
  }

  const ConvexGap& best() const { return best_; }
  /// What lies beyond is not worth a look: neighbours that share the nearest point
  /// are as near, to rounding.
  double Limit() const { return std::min(stop_above_mm_, best_.distance_mm - kAlike_mm); }

  void Skip(double lower_mm, const Eigen::Vector3d& axis) {
    if (!(lower_mm < skipped_mm_)) return;
    skipped_mm_ = lower_mm;
    skipped_axis_ = axis;
  }
  /// Takes a pair whose lower bound is not beyond the limit.
  /// @returns whether it is the nearest so far.
  bool Take(ConvexGap gap) {
    best_.lower_mm = std::min(best_.lower_mm, gap.lower_mm);
    if (!(gap.distance_mm < best_.distance_mm)) return false;
    gap.lower_mm = best_.lower_mm;
    best_ = gap;
    return true;
  }
  /// What was left out as too far is part of the answer.
  ConvexGap Result() const {
    ConvexGap gap = best_;
    if (skipped_mm_ < gap.distance_mm - kAlike_mm) {
      gap.distance_mm = skipped_mm_;
      gap.axis = skipped_axis_;
    }
    gap.lower_mm = std::min(gap.lower_mm, skipped_mm_);
    return gap;
  }

 private:
  static constexpr double kAlike_mm = 1e-8;

  double stop_above_mm_;
  ConvexGap best_;
  double skipped_mm_ = std::numeric_limits<double>::infinity();
  Eigen::Vector3d skipped_axis_ = Eigen::Vector3d::UnitX();
};

}  // namespace aircut::sim
