#include "sim/clearance_limits.h"

#include <cmath>

#include <gtest/gtest.h>

#include "sim/frame_fit.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using test::TempFolder;
using test::TinyJob;

Job JobWithLimits() {
  const TempFolder folder;
  Job job = LoadJob(TinyJob().WriteTo(folder), {});
  job.accept.clearance_mm = {8.0, true};
  job.accept.tool_clearance_mm = {3.0, true};
  return job;
}

// Definition: near the tool its own limit, elsewhere that of links.
TEST(ClearanceLimitsTest, ToolAndLinksHaveTheirOwn) {
  const ClearanceLimits limits(JobWithLimits());
  EXPECT_EQ(limits.Between(BodyKind::kHousing, BodyKind::kPiece).total_mm(), 3.0);
  EXPECT_EQ(limits.Between(BodyKind::kObstacle, BodyKind::kCutter).total_mm(), 3.0);
  EXPECT_EQ(limits.Between(BodyKind::kLink, BodyKind::kObstacle).total_mm(), 8.0);
  EXPECT_EQ(limits.Between(BodyKind::kLink, BodyKind::kLink).total_mm(), 8.0);
  EXPECT_EQ(limits.most_mm(), 8.0);
}

// Closed form: with one error e in the squares of four points the FLE follows from the
// residuals, the target error at a corner from Fitzpatrick, West, Maurer, IEEE TMI 17(5)
// 1998, eq. 46; three standard deviations of one direction are added, and only between
// what the arm carries and what stands with the work.
TEST(ClearanceLimitsTest, AFittedFrameAddsThreeSigma) {
  Job job = JobWithLimits();
  const double e = 0.1;
  job.cell.X_WS_typed = false;
  job.cell.fit.clear();
  for (int k = 0; k < 4; ++k) {
    FitPoint point;
    point.p_S = {k % 2 == 0 ? -100.0 : 100.0, k < 2 ? -100.0 : 100.0, 0.0};
    point.p_W = point.p_S + Eigen::Vector3d(0, 0, k == 0 || k == 3 ? e : -e);   // twisted: no rigid motion helps
    job.cell.fit.push_back(point);
  }
  const FrameFit fit = FitFrame(job.cell.fit);
  ASSERT_NEAR(fit.fle_mm, e * std::sqrt(4.0 / 2.0), 1e-6);
  double factor = 0.0;
  for (int k = 0; k < 8; ++k) {
    factor = std::max(factor, TargetErrorFactor(fit, job.stock_S->box().corner(
                                                         static_cast<Eigen::AlignedBox3d::CornerType>(k))));
  }
  const double sigma = factor * e * std::sqrt(2.0) / std::sqrt(3.0);
  const ClearanceLimits limits(job);
  EXPECT_NEAR(limits.Between(BodyKind::kLink, BodyKind::kFixture).frame_mm, 3.0 * sigma, 1e-6);
  EXPECT_GT(limits.Between(BodyKind::kCutter, BodyKind::kClamp).frame_mm, 0.1);
  EXPECT_EQ(limits.Between(BodyKind::kLink, BodyKind::kObstacle).frame_mm, 0.0);
  EXPECT_EQ(limits.Between(BodyKind::kPiece, BodyKind::kObstacle).frame_mm, 0.0);
}

}  // namespace
}  // namespace aircut::sim
