#include "sim/close_passes.h"

#include <algorithm>
#include <cmath>

namespace aircut::sim {
namespace {

void Absorb(PassSpan* into, const PassSpan& from) {
  into->to = std::max(into->to, from.to);
  into->lower_mm = std::min(into->lower_mm, from.lower_mm);
  if (from.nearest.clearance_mm < into->nearest.clearance_mm) into->nearest = from.nearest;
}

double TimeAt(const kinematics::MotionTrack& track, double at) {
  const double whole = std::floor(at);
  const auto i = static_cast<std::size_t>(whole);
  if (i + 1 >= track.size()) return track.time_s.back();
  return track.time_s[i] + (at - whole) * (track.time_s[i + 1] - track.time_s[i]);
}

}  // namespace

void PassRecorder::Measured(double at, const NearPlace& place) {
  if (!(place.clearance_mm < limit_mm_) && !(place.clearance_mm <= 0.0)) return;
  if (pending_.clearance_mm <= place.clearance_mm) return;
  pending_at_ = at;
  pending_ = place;
}

void PassRecorder::Cover(double from, double to, double lower_mm) {
  const NearPlace measured = pending_;
  const bool touches = std::isfinite(measured.clearance_mm) && pending_at_ >= from && pending_at_ <= to;
  if (touches) pending_ = {};
  // At the limit itself nothing is shown; of two bodies in contact all is.
  const bool clear = lower_mm >= limit_mm_ && lower_mm > 0.0;
  if (clear && !touches) return;
  PassSpan span{from, to, lower_mm, {}};
  if (touches) span.nearest = measured;
  if (!spans_.empty() && spans_.back().to >= from) {
    Absorb(&spans_.back(), span);
  } else {
    spans_.push_back(span);
  }
}

std::vector<PassSpan> JoinSpans(std::vector<PassSpan> spans) {
  std::stable_sort(spans.begin(), spans.end(),
                   [](const PassSpan& a, const PassSpan& b) { return a.from < b.from; });
  std::vector<PassSpan> joined;
  for (const PassSpan& span : spans) {
    if (!joined.empty() && joined.back().to >= span.from) {
      Absorb(&joined.back(), span);
    } else {
      joined.push_back(span);
    }
  }
  return joined;
}

ClosePass PassOn(const kinematics::MotionTrack& track, const PassSpan& span) {
  ClosePass pass;
  pass.from_s = TimeAt(track, span.from);
  pass.to_s = TimeAt(track, span.to);
  // The line of an interval is that of the moment it ends at.
  const auto last = track.size() - 1;
  const auto first = std::min(last, static_cast<std::size_t>(std::floor(span.from)) + 1);
  pass.first_line = track.line[first];
  pass.last_line = track.line[std::max(first, std::min(last, static_cast<std::size_t>(std::ceil(span.to))))];
  pass.lower_mm = span.lower_mm;
  pass.nearest = span.nearest;
  return pass;
}

}  // namespace aircut::sim
