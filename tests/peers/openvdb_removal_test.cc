// A second opinion on removal: OpenVDB's level sets of the same balls.
#include <gtest/gtest.h>
#include <openvdb/openvdb.h>
#include <openvdb/tools/Composite.h>
#include <openvdb/tools/LevelSetMeasure.h>
#include <openvdb/tools/LevelSetSphere.h>
#include <openvdb/tools/MeshToVolume.h>

#include "sim/swept_cut.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

// Peer: a stationary ball every 0.1 mm along the path, subtracted one by one
// from the box. Dense poses leave ridges of step^2 / (8 r) = 0.4 um.
TEST(OpenVdbPeerTest, CurvedBallGrooveRemovesTheSameVolume) {
  openvdb::initialize();
  const double voxel = 0.2;
  std::vector<Eigen::Vector3d> tips;
  for (int n = 0; n <= 100; ++n) {
    const double a = 0.015 * n;
    tips.push_back({8.0 * std::sin(a) - 4.0, 8.0 - 8.0 * std::cos(a) - 4.0, -1.0 - 0.01 * n});
  }
  CutOptions options;
  options.voxel_mm = voxel;
  const GridCut ours = CutGrid(Block(30, 30, 8), UprightTrack(Cutter::Ball(6, 20), tips), options);

  const auto transform = openvdb::math::Transform::createLinearTransform(voxel);
  const auto box = openvdb::math::BBox<openvdb::Vec3s>({-15, -15, -8}, {15, 15, 0});
  auto stock = openvdb::tools::createLevelSetBox<openvdb::FloatGrid>(box, *transform);
  const double before = openvdb::tools::levelSetVolume(*stock);
  for (const Eigen::Vector3d& tip : tips) {
    auto ball = openvdb::tools::createLevelSetSphere<openvdb::FloatGrid>(
        3.0f, openvdb::Vec3f(static_cast<float>(tip.x()), static_cast<float>(tip.y()), static_cast<float>(tip.z() + 3.0)),
        static_cast<float>(voxel));
    openvdb::tools::csgDifference(*stock, *ball);
  }
  const double theirs = before - openvdb::tools::levelSetVolume(*stock);
  // Both are good to about a tenth of a voxel layer over the groove's 150 mm2.
  EXPECT_NEAR(ours.removed_mm3, theirs, 0.1 * voxel * 150.0);
}

}  // namespace
}  // namespace aircut::sim
