#include "kinematics/lattice_search.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "tests/kinematics/leaned_arc.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

/// A lattice over its own request.
struct Scene {
  ArmModel arm;
  PlanRequest request;
  PathTargets targets{request};
  BranchFollower follower{arm};
  SpinLattice lattice;
  LatticeEnds ends{request.home, request.home};

  Scene(const ArmModel& model, const ToolPath& path, const int spins, const double per_mm_deg)
      : arm(model), request(Made(arm, path, per_mm_deg)), lattice(targets, follower, spins) {}
  Scene(const Scene&) = delete;

  static PlanRequest Made(const ArmModel& arm, const ToolPath& path, const double per_mm_deg) {
    PlanRequest request = arm.externals().empty() ? FreeRequest(arm, path) : OnTrack(arm, path, 3);
    request.freedom.spin_per_mm_rad = RadFromDeg(per_mm_deg);
    return request;
  }
  double Step(const LatticeStation& station_from, const LatticeNode& from, const LatticeStation& station,
              const LatticeNode& to) const {
    if (station.linked) return lattice.LinkCost(from.q, to.q);
    return lattice.EdgeCost(from, to, lattice.Travel_mm(station_from.line, station.line)).value_or(kInfinity);
  }
};

// The cheapest of all sequences of nodes from a node on, by trying every one.
double CheapestByHand(const Scene& scene, const std::vector<LatticeStation>& stations,
                      const std::size_t s, const LatticeNode& from) {
  if (s == stations.size()) return scene.lattice.LinkCost(from.q, scene.ends.q_after);
  double best = kInfinity;
  for (const LatticeNode& node : scene.lattice.Nodes(stations[s].line)) {
    const double step = scene.Step(stations[s - 1], from, stations[s], node);
    if (step == kInfinity) continue;
    best = std::fmin(best, step + scene.lattice.NodeCost(node) +
                               CheapestByHand(scene, stations, s + 1, node));
  }
  return best;
}

double CheapestByHand(const Scene& scene, const std::vector<LatticeStation>& stations) {
  double best = kInfinity;
  for (const LatticeNode& node : scene.lattice.Nodes(stations[0].line)) {
    best = std::fmin(best, scene.lattice.LinkCost(scene.ends.q_before, node.q) +
                               scene.lattice.NodeCost(node) + CheapestByHand(scene, stations, 1, node));
  }
  return best;
}

// Oracle: enumeration of every sequence of nodes in every posture.
TEST(LatticeSearchTest, WayIsTheCheapestOfAll) {
  for (const double lean : {0.1, 0.7}) {
    const Scene scene(InventedArm::Make(), LeanedArc(3, 0.3, lean), 12, 0.9);
    const std::vector<LatticeStation> stations{{0, true}, {1, false}, {2, false}, {3, false}};
    const LatticeWay way = LatticeSearch(scene.lattice).Solve(stations, scene.ends, {});
    ASSERT_TRUE(way.complete);
    const double best = CheapestByHand(scene, stations);
    EXPECT_NEAR(way.cost, best, 1e-9 * best);
  }
}

// Oracle: the same with joint moves between runs, where everything may change.
TEST(LatticeSearchTest, WayOverJointMovesIsTheCheapestOfAll) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  joints[3].lower_rad = RadFromDeg(-170);
  joints[3].upper_rad = RadFromDeg(170);
  joints[5].lower_rad = RadFromDeg(-100);
  joints[5].upper_rad = RadFromDeg(200);
  const Scene scene(InventedArm::Make(joints), LeanedArc(3, 0.4, 0.6), 8, 1.2);
  const std::vector<LatticeStation> stations{{0, true}, {1, false}, {2, true}, {3, true}};
  const LatticeWay way = LatticeSearch(scene.lattice).Solve(stations, scene.ends, {});
  ASSERT_TRUE(way.complete);
  const double best = CheapestByHand(scene, stations);
  EXPECT_NEAR(way.cost, best, 1e-9 * best);
}

// Oracle: the same on a track with three places to stand at.
TEST(LatticeSearchTest, WayOverPlacesOnATrackIsTheCheapestOfAll) {
  const Scene scene(WithTrack(InventedArm::Make()), LeanedArc(2, 0.4, 0.6), 8, 1.2);
  const std::vector<LatticeStation> stations{{0, true}, {1, false}, {2, true}};
  const LatticeWay way = LatticeSearch(scene.lattice).Solve(stations, scene.ends, {});
  ASSERT_TRUE(way.complete);
  EXPECT_EQ(way.nodes[0].setting, way.nodes[1].setting);
  const double best = CheapestByHand(scene, stations);
  EXPECT_NEAR(way.cost, best, 1e-9 * best);
}

// The cost that the way claims is that of its own nodes.
TEST(LatticeSearchTest, CostIsTheSumOverItsOwnNodes) {
  const Scene scene(InventedArm::Make(), LeanedArc(60, 0.05, 0.8), 36, 1.0);
  const auto stations = scene.lattice.Stations({0, scene.targets.size()}, {});
  const LatticeWay way = LatticeSearch(scene.lattice).Solve(stations, scene.ends, {});
  ASSERT_TRUE(way.complete);
  double cost = scene.lattice.LinkCost(scene.ends.q_before, way.nodes[0].q) +
                scene.lattice.LinkCost(way.nodes.back().q, scene.ends.q_after);
  for (std::size_t s = 0; s < stations.size(); ++s) {
    cost += scene.lattice.NodeCost(way.nodes[s]);
    if (s > 0) cost += scene.Step(stations[s - 1], way.nodes[s - 1], stations[s], way.nodes[s]);
    EXPECT_EQ((way.spin[s] % 36 + 36) % 36, way.nodes[s].spin);
  }
  EXPECT_NEAR(way.cost, cost, 1e-9 * cost);
}

TEST(LatticeSearchTest, ForbiddenNodesAreNotUsed) {
  const Scene scene(InventedArm::Make(), LeanedArc(20, 0.05, 0.5), 36, 1.0);
  const auto stations = scene.lattice.Stations({0, scene.targets.size()}, {});
  LatticeSearch search(scene.lattice);
  const LatticeWay free_way = search.Solve(stations, scene.ends, {});
  std::vector<ForbiddenNode> forbidden;
  for (const LatticeNode& node : free_way.nodes) {
    forbidden.push_back({stations[forbidden.size()].line, node.posture, node.spin, node.setting});
  }
  const LatticeWay other = search.Solve(stations, scene.ends, forbidden);
  ASSERT_TRUE(other.complete);
  EXPECT_GT(other.cost, free_way.cost);
  for (std::size_t s = 0; s < stations.size(); ++s) {
    EXPECT_FALSE(other.nodes[s].posture == free_way.nodes[s].posture &&
                 other.nodes[s].spin == free_way.nodes[s].spin);
  }
}

// A path that runs out of reach says how far it gets.
TEST(LatticeSearchTest, BrokenWaySaysWhereItEnds) {
  ToolPath path{Line(1, {0, 0, 0}, 0, MoveKind::kRapid)};
  for (int i = 1; i <= 40; ++i) path.push_back(Line(i + 1, {50.0 * i, 0, 0}, 20.0));
  const Scene scene(InventedArm::Make(), path, 36, 1.0);
  const auto stations = scene.lattice.Stations({0, scene.targets.size()}, {});
  const LatticeWay way = LatticeSearch(scene.lattice).Solve(stations, scene.ends, {});
  EXPECT_FALSE(way.complete);
  EXPECT_EQ(way.broken, way.furthest + 1);
  EXPECT_FALSE(scene.lattice.Nodes(way.furthest).empty());
  EXPECT_TRUE(scene.lattice.Nodes(way.broken).empty());
}

}  // namespace
}  // namespace aircut::kinematics
