#include "sim/depth_guard.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// A ball of 6 mm to and fro over a block, 0.6 mm between passes, and samples at the depth asked.
class DepthGuardTest : public testing::Test {
 protected:
  DepthGuardTest() {
    std::vector<Vector3d> tips;
    for (int pass = 0; pass < 12; ++pass) {
      for (int i = 0; i <= 20; ++i) {
        const double x = pass % 2 == 0 ? -10.0 + i : 10.0 - i;
        tips.push_back({x, -3.3 + 0.6 * pass, -1.5 - 0.5 * std::sin(0.2 * x)});
      }
    }
    track_ = UprightTrack(Cutter::Ball(6.0, 20.0), tips);
    for (double y = -2.0; y < 2.0; y += 0.05) {
      for (double x = -8.0; x < 8.0; x += 0.25) samples_.push_back({{{x, y, -1.5}, Vector3d::UnitZ()}, 0.01, {}, -1});
    }
    std::vector<DepthRay> rays;
    for (const DesignSample& s : samples_) rays.push_back(s.ray);
    depths_ = CutRays(*Block(30, 20, 15), track_, rays, 0.0, 2);
    gaps_.assign(samples_.size(), {std::numeric_limits<float>::quiet_NaN(), 0.25f});
  }
  DepthInputs inputs() const { return {track_, outlines_, samples_, depths_, gaps_}; }

  ToolTrack track_;
  std::vector<CutterOutline> outlines_ = {BallOutline({6.0, 20.0})};
  std::vector<DesignSample> samples_;
  std::vector<RayDepth> depths_;
  std::vector<GridGap> gaps_;
};

TEST_F(DepthGuardTest, RaysAgreeWithDensePoses) {
  const DepthGuard guard = GuardDepth(inputs(), 300, 2);
  EXPECT_EQ(guard.samples.size(), 270u);   // every sample was touched: none of the last tenth
  EXPECT_TRUE(guard.beyond.empty());
  EXPECT_LT(guard.worst_gap_mm, kRayBound_mm);
  EXPECT_EQ(GuardDepth(inputs(), 300, 1).samples, guard.samples);
  EXPECT_EQ(GuardDepth(inputs(), 300, 1).worst_gap_mm, guard.worst_gap_mm);
}

// What it must catch: rays off by 0.003 mm one way or the other; 0.0005 mm stays quiet.
TEST_F(DepthGuardTest, RaysThatAreOffAreNamed) {
  for (const double off_mm : {0.003, -0.003}) {
    const std::vector<RayDepth> right = depths_;
    for (RayDepth& d : depths_) d.top_mm += off_mm;
    const DepthGuard guard = GuardDepth(inputs(), 100, 2);
    EXPECT_EQ(guard.beyond, guard.samples) << off_mm;
    EXPECT_NEAR(guard.worst_gap_mm, 0.003, 0.0011);
    depths_ = right;
  }
  for (RayDepth& d : depths_) d.top_mm += 0.0005;
  EXPECT_TRUE(GuardDepth(inputs(), 100, 2).beyond.empty());
}

// A sweep that the rays have lost shows as material that they leave standing.
TEST_F(DepthGuardTest, LostSweepIsNamed) {
  ToolTrack lost = track_;
  lost.sweeps[130].swap = true;
  std::vector<DepthRay> rays;
  for (const DesignSample& s : samples_) rays.push_back(s.ray);
  depths_ = CutRays(*Block(30, 20, 15), lost, rays, 0.0, 2);
  const DepthGuard guard = GuardDepth(inputs(), 2000, 2);
  EXPECT_FALSE(guard.beyond.empty());
}

TEST_F(DepthGuardTest, SamplesWhereGridAndRaysDifferMostAreAmongThem) {
  gaps_[777].gap_mm = -0.4f;
  const DepthGuard guard = GuardDepth(inputs(), 50, 2);
  EXPECT_TRUE(std::binary_search(guard.samples.begin(), guard.samples.end(), 777));
  EXPECT_EQ(guard.samples.size(), 45u);
}

// Rays that have lost every sweep call all untouched; the last tenth finds them out.
TEST_F(DepthGuardTest, SamplesThatRaysCallUntouchedAreLookedAtToo) {
  for (RayDepth& d : depths_) {
    d.touched = false;
    d.top_mm = d.stock_top_mm;
  }
  const DepthGuard guard = GuardDepth(inputs(), 100, 2);
  EXPECT_EQ(guard.samples.size(), 10u);
  EXPECT_EQ(guard.beyond, guard.samples);
}

// Issue: order of at least 1.8 on one sweep without a crease.
TEST_F(DepthGuardTest, GridConvergesWithSecondOrderOnOnePass) {
  const std::optional<Convergence> c = FindConvergence(inputs(), 0.5, 2);
  ASSERT_TRUE(c.has_value());
  ASSERT_TRUE(c->order().has_value());
  EXPECT_GE(*c->order(), 1.8);
  EXPECT_LT(c->coarse_rms_mm, 0.02 * 0.5);
  EXPECT_GT(c->samples, 200);
}

TEST_F(DepthGuardTest, NothingInMaterialNothingToCompare) {
  for (RayDepth& d : depths_) d.touched = d.has_material = false;
  EXPECT_TRUE(GuardDepth(inputs(), 100, 1).samples.empty());
  EXPECT_EQ(GuardDepth(inputs(), 100, 1).worst_sample, -1);
  EXPECT_FALSE(FindConvergence(inputs(), 0.5, 1).has_value());
}

}  // namespace
}  // namespace aircut::sim
