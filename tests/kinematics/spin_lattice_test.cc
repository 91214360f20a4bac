#include "kinematics/spin_lattice.h"

#include <algorithm>
#include <set>
#include <utility>

#include <gtest/gtest.h>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "tests/kinematics/leaned_arc.h"

namespace aircut::kinematics {
namespace {

// At a bound of 1 degree a mm, two steps of 10 degrees take 20 mm.
TEST(SpinLatticeTest, StationsLeaveRoomForTwoSteps) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  ToolPath path{Line(1, {0, 0, 0}, 0, MoveKind::kRapid)};
  for (int i = 1; i <= 400; ++i) path.push_back(Line(i + 1, {0, 0.5 * i, 0}, 20.0));
  const PlanRequest request = FreeRequest(arm, path);
  const PathTargets targets(request);
  const SpinLattice lattice(targets, follower, 36);
  const std::vector<LatticeStation> stations = lattice.Stations({0, targets.size()}, {});
  EXPECT_EQ(stations.front().line, 0u);
  EXPECT_TRUE(stations.front().linked);
  EXPECT_EQ(stations.back().line, 400u);
  for (std::size_t s = 1; s < stations.size(); ++s) {
    EXPECT_NEAR(lattice.Travel_mm(stations[s - 1].line, stations[s].line), 20.0, 1e-9);
  }
  EXPECT_EQ(stations.size(), 11u);
  const std::vector<LatticeStation> with_extra = lattice.Stations({0, targets.size()}, {7});
  EXPECT_EQ(std::count_if(with_extra.begin(), with_extra.end(),
                          [](const LatticeStation& station) { return station.line == 7; }), 1);
}

// Every node stands at its pose, inside the ranges; turn copies are nodes of their own.
TEST(SpinLatticeTest, NodesStandAtTheirPoseAndCountTurns) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  const PlanRequest request = FreeRequest(arm, LeanedArc(2, 0.1, 0.4));
  const PathTargets targets(request);
  const SpinLattice lattice(targets, follower, 36);
  int copies = 0;
  std::set<std::pair<int, int>> seen;
  for (const LatticeNode& node : lattice.Nodes(1)) {
    EXPECT_TRUE(arm.InRange(node.q));
    const Pose wanted = targets.FlangeAt(1, {node.spin * lattice.step_rad(), JointVector(0)});
    EXPECT_LT((FlangePose(arm, node.q).matrix() - wanted.matrix()).norm(), 1e-6);
    copies += seen.insert({node.posture, node.spin}).second ? 0 : 1;
  }
  EXPECT_GT(copies, 36);   // joints 4 and 6 of this arm have nearly two turns each
}

// A track of 2 m under the arm, tried at four places: every node stands at its pose.
TEST(SpinLatticeTest, FreeExternalAxesAreSampledOverTheirRange) {
  const ArmModel arm = WithTrack(InventedArm::Make());
  const BranchFollower follower(arm);
  const PlanRequest request = OnTrack(arm, LeanedArc(2, 0.1, 0.4), 4);
  const PathTargets targets(request);
  const SpinLattice lattice(targets, follower, 12);
  ASSERT_EQ(lattice.settings(), 4);
  EXPECT_EQ(lattice.External(0)[0], -750.0);
  EXPECT_EQ(lattice.External(3)[0], 750.0);
  std::set<int> settings;
  for (const LatticeNode& node : lattice.Nodes(1)) {
    settings.insert(node.setting);
    EXPECT_EQ(node.q[6], lattice.External(node.setting)[0]);
    const Pose X_BF = FootPose(arm, ExternalPart(arm, node.q)) * FlangeFromFoot(arm, node.q);
    const Eigen::AngleAxisd spin(node.spin * lattice.step_rad(), Eigen::Vector3d::UnitZ());
    const Pose wanted = request.X_BS * targets.X_ST(1) * spin * request.X_FT[1].inverse();
    EXPECT_LT((X_BF.matrix() - wanted.matrix()).norm(), 1e-6);
  }
  EXPECT_GE(settings.size(), 2u);
}

}  // namespace
}  // namespace aircut::kinematics
