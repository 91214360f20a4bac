#include "sim/finer_grid.h"

#include <cmath>

#include <gtest/gtest.h>

#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

struct Compared {
  std::vector<DepthRay> rays;
  std::vector<GridGap> gaps;
};

// Rays straight up along the middle of a groove (y = 0.07), one every half millimetre.
Compared Groove(const Cutter& cutter, double voxel_mm) {
  const auto block = Block(60, 20, 8);
  const ToolTrack track = UprightTrack(cutter, {{-25, 0.07, -2}, {25, 0.07, -2}});
  CutOptions options;
  options.voxel_mm = voxel_mm;
  Compared c;
  for (double x = -20; x <= 20; x += 0.5) c.rays.push_back({{x, 0.07, -2}, Vector3d::UnitZ()});
  c.rays.push_back({{0, 9.3, -0.1}, Vector3d::UnitZ()});   // beside the groove: not cut
  c.gaps = CompareGridAndRays(c.rays, CutRays(*block, track, c.rays, 1.0, 2), track, options,
                              CutGrid(block, track, options).stock);
  return c;
}

double Rms(const std::vector<GridGap>& gaps) {
  double sum = 0.0;
  for (std::size_t i = 0; i + 1 < gaps.size(); ++i) sum += std::pow(gaps[i].gap_mm, 2);
  return std::sqrt(sum / static_cast<double>(gaps.size() - 1));
}

// The bottom of a sharp V is a crease: the coarse grid misses it by a part of a
// voxel, whatever its phase; the finer one is asked there.
TEST(FinerGridTest, IsAskedAtTheBottomOfAV) {
  const Compared v = Groove(Cutter::V(1.0471975511965976, 0.0, 8, 12), 0.5);
  for (std::size_t i = 0; i + 1 < v.gaps.size(); ++i) {
    EXPECT_FLOAT_EQ(v.gaps[i].voxel_mm, 0.25f) << i;
    EXPECT_LE(std::abs(v.gaps[i].gap_mm), 0.25f) << i;
  }
  EXPECT_TRUE(std::isnan(v.gaps.back().gap_mm));
}

TEST(FinerGridTest, IsNotAskedWhereTheCoarseOneWillDo) {
  const Compared ball = Groove(Cutter::Ball(12, 20), 0.5);
  for (std::size_t i = 0; i + 1 < ball.gaps.size(); ++i) EXPECT_FLOAT_EQ(ball.gaps[i].voxel_mm, 0.5f) << i;
  EXPECT_LT(Rms(ball.gaps), kSmooth_voxel * 0.5);
}

}  // namespace
}  // namespace aircut::sim
