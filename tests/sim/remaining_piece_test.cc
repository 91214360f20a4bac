#include "sim/remaining_piece.h"

#include <cmath>
#include <limits>
#include <memory>

#include <gtest/gtest.h>

#include "sim/standing_surface.h"
#include "sim/swept_cut.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

constexpr double kVoxel_mm = 0.5;
constexpr double kFar = 1e6;

// A block of 60 x 40 x 20 mm, its face at z = 0, in which a ball of 3 mm cuts two
// grooves along x, 5 mm deep: sweep 0 at y = 0, sweep 2 at y = 12.
class RemainingPieceTest : public testing::Test {
 protected:
  RemainingPieceTest() {
    CutOptions options;
    options.voxel_mm = kVoxel_mm;
    const auto block = std::make_shared<const MeshIndex>(BoxMesh({-30, -20, -20}, {30, 20, 0}));
    const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-40, 0, -5}, {40, 0, -5}, {40, 12, 20}, {40, 12, -5}, {-40, 12, -5}});
    cut_ = CutGrid(block, track, options);
    piece_ = std::make_unique<RemainingPiece>(cut_.stock);
  }

  ConvexGap GapOfBall(const Vector3d& centre, double radius_mm, int sweep) const {
    const PreparedShape ball = Prepare(CapsuleShape{Vector3d::Zero(), Vector3d::Zero(), radius_mm});
    return piece_->GapTo(ball, Pose(Eigen::Translation3d(centre)), sweep, kFar);
  }

  GridCut cut_;
  std::unique_ptr<RemainingPiece> piece_;
};

// Closed form: a ball of 1 mm with its centre 2 mm above the groove's axis at y = 0
// dips below the face before the groove is cut, and stands clear in it after: the
// nearest material is the groove's own round bottom and walls, 3 mm from the axis.
TEST_F(RemainingPieceTest, WhatASweepRemovedIsThereBeforeItAndGoneAfter) {
  const Vector3d centre(3.1, 0.0, -2.0);
  const ConvexGap before = GapOfBall(centre, 1.0, 0);
  EXPECT_LT(before.distance_mm, 0.0);
  for (const int after : {1, 4}) {
    const ConvexGap gap = GapOfBall(centre, 1.0, after);
    EXPECT_NEAR(gap.distance_mm, 3.0 - 1.0, piece_->bound_mm());
    EXPECT_LE(gap.lower_mm, 2.0);
    EXPECT_GE(gap.lower_mm, 2.0 - 2.0 * piece_->bound_mm());
    EXPECT_NEAR((gap.p_A - gap.p_B).norm(), gap.distance_mm, 1e-6);
  }
}

// The other groove is cut by the last sweep only.
TEST_F(RemainingPieceTest, EverySweepHasItsOwnTime) {
  const Vector3d centre(-5.0, 12.0, -2.0);
  for (const int sweep : {0, 1, 3}) EXPECT_LT(GapOfBall(centre, 1.0, sweep).distance_mm, 0.0) << sweep;
  EXPECT_GT(GapOfBall(centre, 1.0, 4).distance_mm, 1.0);
}

// Closed form: beside the grooves the face stands as it was, at any time.
TEST_F(RemainingPieceTest, UntouchedFaceStandsExactly) {
  for (const int sweep : {0, 2, 4}) {
    const ConvexGap gap = GapOfBall({0.3, -14.0, 4.0}, 1.0, sweep);
    EXPECT_NEAR(gap.distance_mm, 3.0, 1e-6);
    EXPECT_NEAR(gap.lower_mm, 3.0, 2e-6);   // what is proven stays a rounding allowance of 1e-6 below
  }
  // In the middle of what nothing came near.
  EXPECT_LT(GapOfBall({0.0, -14.0, -12.0}, 1.0, 4).distance_mm, 0.0);
}

// Conserved quantity: the cut surface and the part inside of touched bricks are all of
// the surface; here by the area of the one that stands.
TEST_F(RemainingPieceTest, StandingSurfaceEndsAtTheTouchedBricks) {
  const Mesh standing = StandingSurface(cut_.stock);
  ASSERT_FALSE(standing.triangles.empty());
  double area_mm2 = 0.0;
  for (const auto& t : standing.triangles) {
    const Vector3d &a = standing.vertices[static_cast<std::size_t>(t[0])], &b = standing.vertices[static_cast<std::size_t>(t[1])],
                   &c = standing.vertices[static_cast<std::size_t>(t[2])];
    area_mm2 += 0.5 * (b - a).cross(c - a).norm();
    EXPECT_LT(TouchedBrickAt(cut_.stock, (a + b + c) / 3.0), 0) << (a + b + c).transpose() / 3.0;
  }
  const double whole_mm2 = 2.0 * (60 * 40 + 60 * 20 + 40 * 20);
  double sampled_mm2 = 0.0;   // of the face at z = 0, 0.25 mm apart
  for (double x = -29.875; x < 30; x += 0.25) {
    for (double y = -19.875; y < 20; y += 0.25) {
      if (TouchedBrickAt(cut_.stock, {x, y, 0.0}) >= 0) sampled_mm2 += 0.0625;
    }
  }
  EXPECT_LT(area_mm2, whole_mm2 - sampled_mm2 * 0.98);
  EXPECT_GT(area_mm2, whole_mm2 - sampled_mm2 * 1.02 - 400.0);   // and of the two ends
}

// Brute force: the nearest of all voxel centres that are there, and the stop.
TEST_F(RemainingPieceTest, StopAboveGivesALowerBoundOnly) {
  const PreparedShape ball = Prepare(CapsuleShape{Vector3d::Zero(), Vector3d::Zero(), 1.0});
  const Pose X_SA(Eigen::Translation3d(3.1, 0.0, 8.0));
  const double exact = piece_->GapTo(ball, X_SA, 4, kFar).distance_mm;
  const ConvexGap stopped = piece_->GapTo(ball, X_SA, 4, 1.0);
  EXPECT_GT(stopped.distance_mm, 1.0 - 1e-9);
  EXPECT_LE(stopped.lower_mm, exact);
}

}  // namespace
}  // namespace aircut::sim
