#pragma once

#include "sim/body_kind.h"
#include "sim/job.h"

namespace aircut::sim {

/// How far two bodies must stay apart.
struct ClearanceLimit {
  Limit asked_mm;              ///< by the job, or the default
  double frame_mm = 0.0;       ///< added for what the frame of the work may be off
  double total_mm() const { return asked_mm.value + frame_mm; }
};

/// Least distances of the bodies of a job: near the tool (cutter, shank, holder,
/// housing, hood) and elsewhere each their own, and three standard deviations of the
/// frame of the work between what the arm carries and what stands with the work, where
/// a fit tells them (target error in one direction at the worst corner of the piece).
class ClearanceLimits {
 public:
  explicit ClearanceLimits(const Job& job);

  ClearanceLimit Between(BodyKind a, BodyKind b) const;
  /// Of all pairs.
  double most_mm() const;

 private:
  Limit links_mm_, tool_mm_;
  double frame_mm_ = 0.0;
};

}  // namespace aircut::sim
