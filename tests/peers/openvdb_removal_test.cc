// A second opinion on removal: OpenVDB's level sets of the same balls.
#include <random>

#include <gtest/gtest.h>
#include <openvdb/openvdb.h>
#include <openvdb/tools/Composite.h>
#include <openvdb/tools/LevelSetMeasure.h>
#include <openvdb/tools/LevelSetSphere.h>
#include <openvdb/tools/MeshToVolume.h>
#include <openvdb/tools/ParticlesToLevelSet.h>

#include "sim/outline_shapes.h"
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

// Every ball that a round-tipped cutter holds, at poses every 0.1 mm.
struct BallsOfCutter {
  using PosType = openvdb::Vec3R;
  std::vector<std::pair<openvdb::Vec3R, double>> balls;
  std::size_t size() const { return balls.size(); }
  void getPos(std::size_t n, openvdb::Vec3R& p) const { p = balls[n].first; }
  void getPosRad(std::size_t n, openvdb::Vec3R& p, openvdb::Real& r) const {
    p = balls[n].first;
    r = balls[n].second;
  }
};

BallsOfCutter BallsAlong(const ToolTrack& track, double tip_mm, double sine, double height_mm) {
  BallsOfCutter all;
  for (std::size_t i = 0; i + 1 < track.p_ST.size(); ++i) {
    const Eigen::Vector3d travel = track.p_ST[i + 1] - track.p_ST[i];
    const int poses = 1 + static_cast<int>(travel.norm() / 0.1);
    for (int n = 0; n <= poses; ++n) {
      const double t = static_cast<double>(n) / poses;
      const Eigen::Vector3d axis = ((1 - t) * track.axis_S[i] + t * track.axis_S[i + 1]).normalized();
      for (double up = 0; up < height_mm; up += 0.15) {
        const Eigen::Vector3d c = track.p_ST[i] + t * travel + (tip_mm + up) * axis;
        all.balls.push_back({{c.x(), c.y(), c.z()}, tip_mm + sine * up});
      }
    }
  }
  return all;
}

// Peer: unions of spheres on random paths with a leaning axis, for a ball, a tapered
// ball and a V, all subtracted from the box at once.
TEST(OpenVdbPeerTest, RandomPathsOfRoundTipsRemoveTheSameVolume) {
  openvdb::initialize();
  const double voxel = 0.2;
  std::mt19937_64 rng(8);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  struct Tip { double tip_mm, half_angle, diameter_mm; };
  for (const Tip tip : {Tip{2.0, 0.0, 4.0}, Tip{0.75, 0.1, 4.0}, Tip{0.4, 0.6, 9.0}}) {
    const OutlineDimensions d{tip.diameter_mm, 20.0};
    const Cutter cutter = tip.half_angle > 0 ? Cutter::Of(RoundTipConeOutline(d, 2 * tip.half_angle, tip.tip_mm)) : Cutter::Of(BallOutline(d));
    std::vector<Eigen::Vector3d> tips;
    for (int n = 0; n < 4; ++n) tips.push_back({9 * c(rng), 9 * c(rng), -1.5 + c(rng)});
    ToolTrack track = UprightTrack(cutter, tips);
    for (auto& axis : track.axis_S) axis = Eigen::Vector3d(0.003 * c(rng), 0.1 + 0.003 * c(rng), 1.0).normalized();
    CutOptions options;
    options.voxel_mm = voxel;
    const double ours = CutGrid(Block(34, 34, 8), track, options).removed_mm3;

    const auto transform = openvdb::math::Transform::createLinearTransform(voxel);
    auto stock = openvdb::tools::createLevelSetBox<openvdb::FloatGrid>(
        openvdb::math::BBox<openvdb::Vec3s>({-17, -17, -8}, {17, 17, 0}), *transform);
    const double before = openvdb::tools::levelSetVolume(*stock);
    auto balls = openvdb::FloatGrid::create(static_cast<float>(3.0 * voxel));
    balls->setTransform(transform);
    balls->setGridClass(openvdb::GRID_LEVEL_SET);
    openvdb::tools::ParticlesToLevelSet<openvdb::FloatGrid> raster(*balls);
    raster.rasterizeSpheres(BallsAlong(track, tip.tip_mm, std::sin(tip.half_angle), 3.5));
    raster.finalize();
    openvdb::tools::csgDifference(*stock, *balls);
    const double theirs = before - openvdb::tools::levelSetVolume(*stock);
    // Both are good to about a tenth of a voxel layer over the grooves' faces.
    EXPECT_NEAR(ours, theirs, 0.1 * voxel * 200.0) << tip.tip_mm;
    EXPECT_GT(ours, 20.0) << tip.tip_mm;
  }
}

}  // namespace
}  // namespace aircut::sim
