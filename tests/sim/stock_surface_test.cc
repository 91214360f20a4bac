#include "sim/stock_surface.h"

#include <cmath>

#include <gtest/gtest.h>

#include "sim/swept_cut.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

GridCut CutSlot(double voxel_mm) {
  CutOptions options;
  options.voxel_mm = voxel_mm;
  return CutGrid(Block(40, 20, 8), UprightTrack(Cutter::Ball(6, 20), {{-8, 0.1, -2}, {8, 0.1, -2}}), options);
}

// Conserved: the volume inside the carved surface is the block's less what was
// removed (the trim leaves hairline seams, worth less than a voxel layer).
TEST(StockSurfaceTest, EnclosesWhatIsLeft) {
  const GridCut cut = CutSlot(0.25);
  const MeshReport report = Inspect(CarvedSurface(cut.stock, 2));
  EXPECT_NEAR(report.volume_mm3, 40.0 * 20.0 * 8.0 - cut.removed_mm3, 0.1 * 0.25 * 400.0);
  EXPECT_EQ(report.crowded_edges, 0);
}

// Oracle: the ball. Away from the crease every surface point of the slot lies
// three millimetres from the path of the ball's centre.
TEST(StockSurfaceTest, SlotPointsLieOnTheBallsCapsule) {
  const GridCut cut = CutSlot(0.25);
  int on_slot = 0;
  for (const Eigen::Vector3d& p : CarvedSurface(cut.stock, 2).vertices) {
    if (p.z() > -0.5 || p.z() < -3.0 || std::abs(p.x()) > 7.5 || std::abs(p.y() - 0.1) > 2.5) continue;
    EXPECT_NEAR(std::hypot(p.y() - 0.1, p.z() - 1.0), 3.0, 0.1 * 0.25) << p.transpose();
    ++on_slot;
  }
  EXPECT_GT(on_slot, 500);
}

TEST(StockSurfaceTest, UntouchedStockComesBackAsItWas) {
  CutOptions options;
  const GridCut cut = CutGrid(Block(40, 20, 8), UprightTrack(Cutter::Ball(6, 20), {{0, 0, 50}, {1, 0, 50}}), options);
  const Mesh mesh = CarvedSurface(cut.stock, 1);
  EXPECT_EQ(mesh.triangles.size(), 12u);
  EXPECT_NEAR(Inspect(mesh).volume_mm3, 6400.0, 1e-9);
}

}  // namespace
}  // namespace aircut::sim
