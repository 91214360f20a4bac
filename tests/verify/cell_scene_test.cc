#include "verify/cell_scene.h"

#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "tests/verify/sheet_cell.h"
#include "verify/shape_mesh.h"

namespace aircut::verify {
namespace {

using kinematics::Pose;
using support::BareCell;
using support::kDegree;

Pose TipInWorld(const sim::Cell& cell, const kinematics::JointVector& q) {
  return cell.X_WB * kinematics::FlangePose(*cell.arm, q) * cell.X_FH * Eigen::Translation3d(0, 0, -40);
}

sim::Cell CellWithWorkAt(const Eigen::Vector3d& p_W, double lean_rad) {
  sim::Cell cell = BareCell().cell;
  cell.X_WS = kinematics::MakePose(Eigen::AngleAxisd(lean_rad, Eigen::Vector3d::UnitY()).toRotationMatrix(), p_W);
  return cell;
}

// Independent path: forward kinematics puts the tip on the origin, the axis on z of S.
TEST(CellSceneTest, PostureAtZeroHoldsTheTipThere) {
  const sim::Cell cell = CellWithWorkAt({600, 100, 500}, 20 * kDegree);
  const auto q = PostureAtWorkpieceZero(cell, cell.cutters.at(1));
  ASSERT_TRUE(q.has_value());
  const Pose X_ST = cell.X_WS.inverse() * TipInWorld(cell, *q);
  EXPECT_NEAR(X_ST.translation().norm(), 0, 1e-6);
  EXPECT_NEAR((X_ST.linear().col(2) - Eigen::Vector3d::UnitZ()).norm(), 0, 1e-9);
  EXPECT_TRUE(cell.arm->InRange(*q));
}

// Caught: farther than the stretched arm of 1,202 mm from its axis. Nearly: inside.
TEST(CellSceneTest, ZeroOutOfReachHasNoPosture) {
  const sim::Cell far = CellWithWorkAt({1600, 0, 500}, 0), near = CellWithWorkAt({1100, 0, 500}, 0);
  EXPECT_FALSE(PostureAtWorkpieceZero(far, far.cutters.at(1)).has_value());
  EXPECT_TRUE(PostureAtWorkpieceZero(near, near.cutters.at(1)).has_value());
}

TEST(CellSceneTest, ZeroOutsideTheRangesHasNoPosture) {
  sim::Cell cell = CellWithWorkAt({600, 100, 500}, 0);
  auto joints = support::FreeJoints();
  joints[0].lower_rad = 100 * kDegree;   // faces away from the work
  joints[0].upper_rad = 101 * kDegree;
  cell.arm = support::SheetArm(joints);
  EXPECT_FALSE(PostureAtWorkpieceZero(cell, cell.cutters.at(1)).has_value());
}

// Oracle: the tip is the lowest point of the stack, at minus the stick-out, and the
// holder ends 45 mm above the nose.
TEST(CellSceneTest, StackReachesFromTipToHolder) {
  const sim::Cell cell = BareCell().cell;
  Eigen::AlignedBox3d box;
  for (const DrawnBody& body : ToolStackInNose(cell, cell.cutters.at(1))) {
    for (const Eigen::Vector3d& p : body.mesh.vertices) box.extend(p);
  }
  EXPECT_NEAR(box.min().z(), -40, 1e-9);
  EXPECT_NEAR(box.max().z(), 45, 1e-9);
  EXPECT_NEAR(box.max().x(), 20, 0.05);
}

// Oracle: volumes in closed form; a polyhedron on the surface holds a little less,
// by at most the sag of its flats (7.5 degrees: 0.9 %).
TEST(CellSceneTest, SurfacesAreClosedAndHoldTheirVolume) {
  const double pi = kinematics::kPi;
  const auto holds = [](const sim::Shape& shape, double volume_mm3) {
    const sim::MeshReport report = sim::Inspect(SurfaceOf(shape));
    EXPECT_LE(report.volume_mm3, volume_mm3 * (1 + 1e-12));
    EXPECT_GE(report.volume_mm3, volume_mm3 * 0.991);
  };
  holds(sim::CylinderShape{{1, 2, 3}, {1, 2, 53}, 10}, pi * 100 * 50);
  holds(sim::CylinderShape{{0, 0, 0}, {30, 40, 0}, 10}, pi * 100 * 50);
  holds(sim::CapsuleShape{{0, 0, 0}, {0, 50, 0}, 10}, pi * 100 * 50 + 4.0 / 3 * pi * 1000);
  holds(sim::CapsuleShape{{5, 5, 5}, {5, 5, 5}, 10}, 4.0 / 3 * pi * 1000);
  holds(sim::BoxShape{{0, 0, 0}, {1, 2, 3}}, 6);
  EXPECT_TRUE(SurfaceOf(sim::HalfSpaceShape{0}).triangles.empty());
}

}  // namespace
}  // namespace aircut::verify
