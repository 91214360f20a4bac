#include "kinematics/spin_lattice.h"

#include <cmath>
#include <limits>
#include <set>

#include <gtest/gtest.h>

#include "kinematics/whole_path_choice.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

// A groove along an arc, the tool leaned outwards, rather far from the arm.
ToolPath LeanedArc(const int lines, const double step_rad, const double lean) {
  ToolPath path{Line(1, {250, 0, 30}, 0, MoveKind::kRapid, {lean, 0, 1})};
  for (int i = 0; i < lines; ++i) {
    const double angle = step_rad * i;
    const Eigen::Vector3d out(std::cos(angle), std::sin(angle), 0);
    path.push_back(Line(i + 2, 250.0 * out, 20.0, MoveKind::kCut, Eigen::Vector3d(0, 0, 1) + lean * out));
  }
  return path;
}

PlanRequest FreeRequest(const ArmModel& arm, const ToolPath& path) {
  PlanRequest request = Request(arm, path);
  request.spin = SpinRule::kFree;
  return request;
}

// The cheapest of all sequences of nodes, by trying every one.
double CheapestByHand(const SpinLattice& lattice, const std::vector<std::size_t>& stations,
                      const int posture, const JointVector& q_before, const std::size_t s,
                      const LatticeNode* from) {
  if (s == stations.size()) return 0.0;
  double best = std::numeric_limits<double>::infinity();
  for (const LatticeNode& node : lattice.Nodes(stations[s], posture)) {
    double cost = lattice.NodeCost(node);
    if (from == nullptr) {
      cost += lattice.LinkCost(q_before, node.q);
    } else {
      const auto edge = lattice.EdgeCost(*from, node, lattice.Travel_mm(stations[s - 1], stations[s]));
      if (!edge) continue;
      cost += *edge;
    }
    best = std::fmin(best, cost + CheapestByHand(lattice, stations, posture, q_before, s + 1, &node));
  }
  return best;
}

// Oracle: enumeration of every sequence of nodes in every posture.
TEST(SpinLatticeTest, WayIsTheCheapestOfAll) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  for (const double lean : {0.1, 0.7}) {
    PlanRequest request = FreeRequest(arm, LeanedArc(3, 0.3, lean));
    request.freedom.spins = 12;
    request.freedom.spin_per_mm_rad = RadFromDeg(0.9);
    const PathTargets targets(request);
    const SpinLattice lattice(targets, follower, 12);
    const std::vector<std::size_t> stations{0, 1, 2, 3};
    const LatticeWay way = lattice.Solve(stations, request.home, {});
    ASSERT_TRUE(way.complete);
    double best = std::numeric_limits<double>::infinity();
    for (int posture = 0; posture < kPostures; ++posture) {
      best = std::fmin(best, CheapestByHand(lattice, stations, posture, request.home, 0, nullptr));
    }
    EXPECT_NEAR(way.cost, best, 1e-9 * best);
  }
}

// The cost that the way claims is that of its own nodes.
TEST(SpinLatticeTest, CostIsTheSumOverItsOwnNodes) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  const PlanRequest request = FreeRequest(arm, LeanedArc(60, 0.05, 0.8));
  const PathTargets targets(request);
  const SpinLattice lattice(targets, follower, 36);
  const LatticeWay way = lattice.Solve(lattice.Stations({0, targets.size()}, {}), request.home, {});
  ASSERT_TRUE(way.complete);
  const auto node = [&](std::size_t s) { return LatticeNode{((way.spin[s] % 36) + 36) % 36, way.q[s]}; };
  double cost = lattice.LinkCost(request.home, way.q[0]) + lattice.NodeCost(node(0));
  for (std::size_t s = 1; s < way.stations.size(); ++s) {
    const auto edge = lattice.EdgeCost(node(s - 1), node(s), lattice.Travel_mm(way.stations[s - 1], way.stations[s]));
    ASSERT_TRUE(edge);
    cost += *edge + lattice.NodeCost(node(s));
  }
  EXPECT_NEAR(way.cost, cost, 1e-9 * cost);
}

// At a bound of 1 degree a mm, two steps of 10 degrees take 20 mm.
TEST(SpinLatticeTest, StationsLeaveRoomForTwoSteps) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  ToolPath path{Line(1, {0, 0, 0}, 0, MoveKind::kRapid)};
  for (int i = 1; i <= 400; ++i) path.push_back(Line(i + 1, {0, 0.5 * i, 0}, 20.0));
  const PlanRequest request = FreeRequest(arm, path);
  const PathTargets targets(request);
  const SpinLattice lattice(targets, follower, 36);
  const std::vector<std::size_t> stations = lattice.Stations({0, targets.size()}, {});
  EXPECT_EQ(stations.front(), 0u);
  EXPECT_EQ(stations.back(), 400u);
  for (std::size_t s = 1; s < stations.size(); ++s) {
    EXPECT_NEAR(lattice.Travel_mm(stations[s - 1], stations[s]), 20.0, 1e-9);
  }
  EXPECT_EQ(stations.size(), 11u);
  const std::vector<std::size_t> with_extra = lattice.Stations({0, targets.size()}, {7});
  EXPECT_EQ(std::count(with_extra.begin(), with_extra.end(), 7u), 1);
}

// Every node stands at its pose, inside the ranges; turn copies are nodes of their own.
TEST(SpinLatticeTest, NodesStandAtTheirPoseAndCountTurns) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  const PlanRequest request = FreeRequest(arm, LeanedArc(2, 0.1, 0.4));
  const PathTargets targets(request);
  const SpinLattice lattice(targets, follower, 36);
  int copies = 0;
  for (int posture = 0; posture < kPostures; ++posture) {
    std::set<int> spins;
    for (const LatticeNode& node : lattice.Nodes(1, posture)) {
      EXPECT_TRUE(arm.InRange(node.q));
      const Pose wanted = targets.FlangeAt(1, {node.spin * lattice.step_rad(), JointVector(0)});
      EXPECT_LT((FlangePose(arm, node.q).matrix() - wanted.matrix()).norm(), 1e-6);
      copies += spins.insert(node.spin).second ? 0 : 1;
    }
  }
  EXPECT_GT(copies, 36);   // joints 4 and 6 of this arm have nearly two turns each
}

TEST(SpinLatticeTest, ForbiddenNodesAreNotUsed) {
  const ArmModel arm = InventedArm::Make();
  const BranchFollower follower(arm);
  const PlanRequest request = FreeRequest(arm, LeanedArc(20, 0.05, 0.5));
  const PathTargets targets(request);
  const SpinLattice lattice(targets, follower, 36);
  const std::vector<std::size_t> stations = lattice.Stations({0, targets.size()}, {});
  const LatticeWay free_way = lattice.Solve(stations, request.home, {});
  std::vector<ForbiddenNode> forbidden;
  for (std::size_t s = 0; s < stations.size(); ++s) {
    forbidden.push_back({stations[s], free_way.posture, ((free_way.spin[s] % 36) + 36) % 36});
  }
  const LatticeWay other = lattice.Solve(stations, request.home, forbidden);
  ASSERT_TRUE(other.complete);
  EXPECT_GE(other.cost, free_way.cost);
  for (std::size_t s = 0; s < stations.size(); ++s) {
    const bool same = other.posture == free_way.posture && (other.spin[s] - free_way.spin[s]) % 36 == 0;
    EXPECT_FALSE(same);
  }
}

double SmallestRoom(const Motion& motion) {
  double room = std::numeric_limits<double>::infinity();
  for (const JointMargin& margin : motion.joint_margins) room = std::fmin(room, margin.margin_rad);
  return room;
}

// A ring with the tool leaned 45 degrees: every fixed direction breaks somewhere,
// the free spin follows; its spin keeps the bound per mm and the tip its path.
TEST(WholePathChoiceTest, FreeSpinFollowsWhereNoFixedOneDoes) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  joints[4].lower_rad = RadFromDeg(-100);
  joints[4].upper_rad = RadFromDeg(100);
  joints[3].lower_rad = RadFromDeg(-165);
  joints[3].upper_rad = RadFromDeg(165);
  const ArmModel arm = InventedArm::Make(joints);
  const Pose X_FT = [] {
    Pose X = Pose::Identity();
    X.translate(Eigen::Vector3d(150, 0, 130));
    X.rotate(Eigen::AngleAxisd(-kPi / 2, Eigen::Vector3d::UnitY()));
    return Pose(X * Eigen::Translation3d(0, 0, -40));
  }();
  PlanRequest request = FreeRequest(arm, LeanedArc(240, 2.0 * kPi / 240, 1.0));
  request.X_FT.assign(request.path.size(), X_FT);
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete()) << (motion.splits.empty() ? "" : motion.splits[0].text);
  ASSERT_EQ(motion.spin_per_line.size(), request.path.size());
  for (std::size_t i = 1; i < request.path.size(); ++i) {
    const double travel_mm = (request.path[i].p_ST - request.path[i - 1].p_ST).norm();
    EXPECT_LE(std::abs(motion.spin_per_line[i] - motion.spin_per_line[i - 1]),
              1.6 * RadFromDeg(1.0) * travel_mm + 1e-9);
  }
  int followed = 0;
  for (int k = 0; k < 12; ++k) {
    PlanRequest fixed = request;
    fixed.spin = SpinRule::kFixed;
    fixed.toward_S = {std::cos(RadFromDeg(30.0 * k)), std::sin(RadFromDeg(30.0 * k)), 0};
    followed += PlanMotion(fixed).faults.empty() ? 1 : 0;
  }
  EXPECT_EQ(followed, 0);
  EXPECT_GT(SmallestRoom(motion), 0.0);
}

// The clearance callback bars what it refuses: here every posture with joint 1 on
// one side of where the free choice went.
TEST(WholePathChoiceTest, RefusedStationsAreChosenAgain) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = FreeRequest(arm, LeanedArc(30, 0.02, 0.3));
  const Motion first = PlanMotion(request);
  ASSERT_TRUE(first.complete());
  const double q6_rad = first.tracks[0].q[MomentOfLine(first.tracks[0], 20)][5];
  request.clearance_mm = [q6_rad](const JointVector& q, std::size_t) {
    return std::abs(q[5] - q6_rad) < RadFromDeg(8) ? -1.0 : 1.0;
  };
  const Motion second = PlanMotion(request);
  ASSERT_TRUE(second.complete());
  EXPECT_GE(std::abs(second.tracks[0].q[MomentOfLine(second.tracks[0], 20)][5] - q6_rad), RadFromDeg(4));
}

// A board that runs out of reach: the advice names a line before the end and a
// move of the work that brings it back.
TEST(SplitAdviceTest, NamesTheLineAndTheSmallestMoveThatHelps) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path{Line(1, {0, 0, 0}, 0, MoveKind::kRapid)};
  for (int i = 1; i <= 100; ++i) path.push_back(Line(i + 1, {10.0 * i, 0, 0}, 20.0));
  PlanRequest request = FreeRequest(arm, path);
  request.X_BS.translation().x() = 2200;
  const Motion motion = PlanMotion(request);
  ASSERT_FALSE(motion.complete());
  ASSERT_EQ(motion.splits.size(), 1u);
  const SplitAdvice& advice = motion.splits[0];
  EXPECT_EQ(advice.first_line, 1);
  EXPECT_EQ(advice.last_line, 101);
  EXPECT_GT(advice.split_line, 2);
  EXPECT_LT(advice.split_line, 101);
  PlanRequest part = request;
  part.path.resize(static_cast<std::size_t>(advice.split_line));
  part.X_FT.resize(part.path.size());
  EXPECT_TRUE(PlanMotion(part).complete()) << advice.split_line;
  EXPECT_NE(advice.text.find("smallest move of the work that helps"), std::string::npos) << advice.text;
}

// A repeated pose, a turn of 180 degrees in a cut: a finding or a motion, no crash.
TEST(WholePathChoiceTest, StrangePathsEndInAFindingOrAMotion) {
  const ArmModel arm = InventedArm::Make();
  ToolPath repeated = LeanedArc(5, 0.02, 0.2);
  repeated.insert(repeated.begin() + 3, repeated[2]);
  EXPECT_TRUE(PlanMotion(FreeRequest(arm, repeated)).complete());
  ToolPath flipped = LeanedArc(5, 0.02, 0.0);
  for (std::size_t i = 3; i < flipped.size(); ++i) flipped[i].axis_S = -Eigen::Vector3d::UnitZ();
  const Motion motion = PlanMotion(FreeRequest(arm, flipped));
  EXPECT_TRUE(motion.complete() || !motion.faults.empty());
  const ToolPath one{Line(1, {0, 0, 0}, 20)};
  EXPECT_TRUE(PlanMotion(FreeRequest(arm, one)).complete());
}

}  // namespace
}  // namespace aircut::kinematics
