#include "sim/piece_location.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

// The fit ends on steps below 1e-9 mm; a few of them may be left.
constexpr double kFit_mm = 1e-6;

MeshIndex Block() { return MeshIndex(BoxMesh(Vector3d(0, 0, 0), Vector3d(200, 120, 40))); }

// Three points on top, two in front, one at the side: the six of a shop's corner.
std::vector<Vector3d> SixPoints() {
  return {{20, 15, 40}, {180, 20, 40}, {100, 110, 40}, {30, 0, 20}, {170, 0, 22}, {0, 60, 18}};
}

Pose SmallPose(const Vector3d& shift_mm, const Vector3d& turn_rad) {
  Pose X = Pose::Identity();
  X.translate(shift_mm);
  X.rotate(Eigen::AngleAxisd(turn_rad.norm(), turn_rad.normalized()));
  return X;
}

std::vector<Vector3d> Moved(const Pose& X, std::vector<Vector3d> points) {
  for (Vector3d& p : points) p = X * p;
  return points;
}

// Oracle: the motion that was put in.
TEST(PieceLocationTest, SixPointsRecoverARigidMotion) {
  const Pose X_SA = SmallPose({1.2, -0.7, 0.4}, {0.004, -0.006, 0.01});
  const std::vector<Vector3d> touched = Moved(X_SA, SixPoints());
  const PieceLocation found = LocatePiece(Block(), touched);
  EXPECT_TRUE(found.given);
  EXPECT_EQ(found.points, 6);
  EXPECT_EQ(found.directions_seen, 6);
  EXPECT_LT(found.residual_mm, kFit_mm);
  EXPECT_LT((found.X_SA.matrix() - X_SA.matrix()).cwiseAbs().maxCoeff(), kFit_mm);
  EXPECT_GT(found.before_mm, 0.5);
}

// Oracle: the same on a body without flat faces; a ball's own turns stay unseen.
TEST(PieceLocationTest, BallSettlesItsPlaceButNotItsTurns) {
  const MeshIndex ball(IcosphereMesh(50, 5));
  std::vector<Vector3d> touched;
  for (const Vector3d& v : IcosphereMesh(50, 1).vertices) touched.push_back(v + Vector3d(0.3, -0.2, 0.1));
  const PieceLocation found = LocatePiece(ball, touched);
  EXPECT_EQ(found.directions_seen, 3);
  // The ball is made of flats: 0.01 mm below the sphere at most.
  EXPECT_LT((found.X_SA.translation() - Vector3d(0.3, -0.2, 0.1)).norm(), 0.02);
  EXPECT_LT(found.residual_mm, 0.05);
}

TEST(PieceLocationTest, OnePointOnAFlatFaceMovesOneDirection) {
  const PieceLocation found = LocatePiece(Block(), {Vector3d(70, 50, 40.8)});
  EXPECT_EQ(found.directions_seen, 1);
  EXPECT_NEAR(found.before_mm, 0.8, 1e-9);
  EXPECT_NEAR(found.worst_signed_mm, 0.8, 1e-9);
  EXPECT_EQ(found.worst_p_S, Vector3d(70, 50, 40.8));
  EXPECT_LT((found.X_SA.translation() - Vector3d(0, 0, 0.8)).norm(), 1e-6);
  EXPECT_LT(found.residual_mm, kFit_mm);
}

// Property: points on one face say nothing of a slide along it.
TEST(PieceLocationTest, SlideAlongTheTouchedFaceIsNotClaimed) {
  std::vector<Vector3d> touched;
  for (const double x : {20.0, 100.0, 180.0}) {
    for (const double y : {15.0, 60.0, 105.0}) touched.emplace_back(x + 1.0, y, 40.0);
  }
  const PieceLocation found = LocatePiece(Block(), touched);
  EXPECT_EQ(found.directions_seen, 3);
  EXPECT_LT((found.X_SA.matrix() - Pose::Identity().matrix()).cwiseAbs().maxCoeff(), 1e-9);
  EXPECT_EQ(found.before_mm, 0.0);
}

// Oracle: least squares of n equal heights and one that is off by h on a
// plane: the worst residual keeps most of h, the fit takes at most its leverage.
TEST(PieceLocationTest, OutlierStaysVisibleAsResidual) {
  std::vector<Vector3d> touched;
  for (const double x : {20.0, 60.0, 100.0, 140.0, 180.0}) {
    for (const double y : {15.0, 60.0, 105.0}) touched.emplace_back(x, y, 40.0);
  }
  touched[7].z() += 1.0;   // the middle one: its leverage is 1 / 15
  const PieceLocation found = LocatePiece(Block(), touched);
  EXPECT_NEAR(found.residual_mm, 1.0 - 1.0 / 15.0, 1e-6);
  EXPECT_NEAR(found.before_mm, 1.0, 1e-9);
  EXPECT_EQ(found.worst_p_S, touched[7]);
  EXPECT_NEAR(found.rms_mm, std::sqrt((1.0 - 1.0 / 15.0) / 15.0), 1e-6);
}

// A point below the scanned surface has the opposite sign.
TEST(PieceLocationTest, PointBelowTheSurfaceIsNegative) {
  EXPECT_NEAR(LocatePiece(Block(), {Vector3d(70, 50, 39.5)}).worst_signed_mm, -0.5, 1e-9);
}

TEST(PieceLocationTest, NoPointsGiveNothing) {
  const PieceLocation found = LocatePiece(Block(), {});
  EXPECT_FALSE(found.given);
  EXPECT_EQ(found.directions_seen, 0);
  EXPECT_TRUE(found.X_SA.isApprox(Pose::Identity()));
}

TEST(PieceLocationTest, PointThatIsNotFiniteThrows) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THROW(LocatePiece(Block(), {Vector3d(0, nan, 0)}), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::sim
