#pragma once

#include <vector>

#include "sim/clearance.h"

namespace aircut::sim {

/// A ClosePass with its ends in moments of the track, the part between two moments
/// as a fraction.
struct PassSpan {
  double from = 0.0, to = 0.0;
  double lower_mm = 0.0;
  NearPlace nearest;
};

/// Gathers intervals that are not shown to be farther apart than a limit into spans.
class PassRecorder {
 public:
  explicit PassRecorder(double limit_mm) : limit_mm_(limit_mm) {}

  /// A distance measured at a place in time, before the interval that holds it is
  /// covered.
  void Measured(double at, const NearPlace& place);
  /// Nothing between the two moments is nearer than `lower_mm`. In time order.
  void Cover(double from, double to, double lower_mm);
  std::vector<PassSpan> Take() { return std::move(spans_); }

 private:
  double limit_mm_;
  std::vector<PassSpan> spans_;
  double pending_at_ = 0.0;
  NearPlace pending_;   // the nearest that no interval has taken yet; infinite = none
};

/// The spans of several searches as one list in time order; what overlaps or adjoins
/// is one span.
std::vector<PassSpan> JoinSpans(std::vector<PassSpan> spans);

/// @returns the pass with its times and lines on the track.
ClosePass PassOn(const kinematics::MotionTrack& track, const PassSpan& span);

}  // namespace aircut::sim
