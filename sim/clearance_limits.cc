#include "sim/clearance_limits.h"

#include <algorithm>
#include <cmath>

#include "sim/frame_fit.h"

namespace aircut::sim {
namespace {

bool IsNearTool(BodyKind kind) {
  return kind == BodyKind::kCutter || kind == BodyKind::kTool || kind == BodyKind::kHousing || kind == BodyKind::kHood;
}
bool IsOnArm(BodyKind kind) {
  return IsNearTool(kind) || kind == BodyKind::kLink || kind == BodyKind::kHose;
}
bool IsWithWork(BodyKind kind) {
  return kind == BodyKind::kPiece || kind == BodyKind::kFixture || kind == BodyKind::kClamp;
}

// The target error is that of a place in space; along one direction it is its third
// part in squares.
double FrameSigma_mm(const Job& job) {
  if (job.cell.fit.empty() || job.cell.X_WS_typed || !job.stock_S) return 0.0;
  const FrameFit fit = FitFrame(job.cell.fit);
  if (fit.state != FitState::kSettled) return 0.0;
  double worst = 0.0;
  for (int k = 0; k < 8; ++k) {
    const Eigen::Vector3d corner = job.stock_S->box().corner(static_cast<Eigen::AlignedBox3d::CornerType>(k));
    worst = std::max(worst, TargetErrorFactor(fit, corner));
  }
  return worst * fit.fle_mm / std::sqrt(3.0);
}

}  // namespace

ClearanceLimits::ClearanceLimits(const Job& job)
    : links_mm_(job.accept.clearance_mm), tool_mm_(job.accept.tool_clearance_mm), frame_mm_(3.0 * FrameSigma_mm(job)) {}

ClearanceLimit ClearanceLimits::Between(BodyKind a, BodyKind b) const {
  const bool across = (IsOnArm(a) && IsWithWork(b)) || (IsOnArm(b) && IsWithWork(a));
  return {IsNearTool(a) || IsNearTool(b) ? tool_mm_ : links_mm_, across ? frame_mm_ : 0.0};
}

double ClearanceLimits::most_mm() const { return std::max(links_mm_.value, tool_mm_.value) + frame_mm_; }

}  // namespace aircut::sim
