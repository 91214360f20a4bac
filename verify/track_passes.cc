#include "verify/track_passes.h"

#include <algorithm>
#include <cmath>

namespace aircut::verify {

using Eigen::Vector3d;

double TipBallRadius_mm(const sim::Cutter& cutter) {
  for (const sim::BallString& s : cutter.strings()) {
    if (s.r0_mm > 0.0 && std::abs(s.z0_mm - s.r0_mm) < 1e-9) return s.r0_mm;
  }
  return 0.0;
}

TrackPasses::TrackPasses(const sim::ToolTrack& track) : track_(track), way_mm_(1, 0.0) {
  for (std::size_t i = 0; i + 1 < track.p_ST.size(); ++i) {
    way_mm_.push_back(way_mm_.back() + (track.p_ST[i + 1] - track.p_ST[i]).norm());
  }
  for (const sim::TrackTool& tool : track.tools) tip_ball_mm_.push_back(TipBallRadius_mm(tool.cutter));
}

std::optional<PassPlace> TrackPasses::At(int sweep, const Vector3d& p_S) const {
  const auto n = static_cast<std::size_t>(sweep);
  const double lift_mm = tip_ball_mm_[ToolOf(sweep)];
  const Vector3d from = track_.p_ST[n] + lift_mm * track_.axis_S[n];
  const Vector3d travel = track_.p_ST[n + 1] + lift_mm * track_.axis_S[n + 1] - from;
  const double length = travel.norm();
  if (length < 1e-9) return std::nullopt;
  const double part = std::clamp(travel.dot(p_S - from) / (length * length), 0.0, 1.0);
  return PassPlace{from + part * travel, travel / length, way_mm_[n] + part * (way_mm_[n + 1] - way_mm_[n])};
}

bool TrackPasses::OnePass(const PassPlace& a, const PassPlace& b) {
  return std::abs(a.way_mm - b.way_mm) <= 2.0 * (a.p_S - b.p_S).norm() + 1e-6;
}

bool TrackPasses::OnePass(int a, int b, const Vector3d& p_S) const {
  if (a == b) return true;
  const auto first = At(a, p_S), second = At(b, p_S);
  return first && second && OnePass(*first, *second);
}

bool TrackPasses::SideBySide(const PassPlace& a, const PassPlace& b) {
  constexpr double kParallel = 0.9;   // cosine
  return std::abs(a.feed_S.dot(b.feed_S)) >= kParallel && !OnePass(a, b);
}

}  // namespace aircut::verify
