// Inverse kinematics of 10,000 reachable poses: closed form with all branches
// against a numerical solver from random seeds, on the same poses in one run.
#include <cstdint>
#include <random>
#include <vector>

#include <benchmark/benchmark.h>
#include <kdl/chainfksolverpos_recursive.hpp>

#include "kinematics/forward_kinematics.h"
#include "kinematics/inverse_kinematics.h"
#include "tests/bench/kdl_lma.h"
#include "tests/support/random_pose.h"
#include "tests/support/sample_arm.h"

namespace aircut::kinematics {
namespace {

constexpr int kPoses = 10000;

// Made-up arm of 2.65 m reach as a table, so that both sides build it from the same rows.
std::vector<DhRow> Rows() {
  const double quarter = kPi / 2;
  return {{350, -quarter, 780, 0}, {1100, 0, 0, -quarter}, {-100, -quarter, 0, 0},
          {0, quarter, 1196, 0},   {0, -quarter, 0, 0},    {0, 0, 200, 0}};
}

ArmModel Arm() { return ArmModel::FromDhStandard(Rows(), support::SampleArmJoints()); }

struct Poses {
  std::vector<Pose> X_BF;
  std::vector<JointVector> seeds;  // model angles, unrelated to the poses
};

// Poses of random panel values within the ranges: all reachable.
Poses MakePoses(const ArmModel& arm) {
  std::mt19937_64 rng(20260301);
  Poses poses;
  for (int i = 0; i < kPoses; ++i) {
    poses.X_BF.push_back(FlangePose(arm, support::RandomPanelValues(rng, arm)));
    poses.seeds.push_back(arm.ModelAngles(support::RandomPanelValues(rng, arm)));
  }
  return poses;
}

bool Reproduces(const ArmModel& arm, const JointVector& q, const Pose& X_BF) {
  return FlangePose(arm, q).isApprox(X_BF, 1e-8);
}

void Ours(benchmark::State& state) {
  const ArmModel arm = Arm();
  const InverseKinematics inverse(arm);
  const Poses poses = MakePoses(arm);
  int solved = 0;
  for (const Pose& X_BF : poses.X_BF) {
    const IkSolutions solutions = inverse.Solve(X_BF);
    if (solutions.count > 0 && Reproduces(arm, solutions.items[0].q, X_BF)) ++solved;
  }
  if (solved != kPoses) state.SkipWithError("a reachable pose was not solved");
  for (auto _ : state) {
    for (const Pose& X_BF : poses.X_BF) benchmark::DoNotOptimize(inverse.Solve(X_BF));
  }
  state.SetItemsProcessed(state.iterations() * kPoses);
  state.counters["solved_share"] = static_cast<double>(solved) / kPoses;
}
BENCHMARK(Ours)->Name("InverseKinematics/ours")->Unit(benchmark::kMillisecond);

// @returns true if both sides place the flange alike: the chain is the same arm.
bool IsSameArm(const KDL::Chain& chain, const ArmModel& arm, const JointVector& theta) {
  KDL::ChainFkSolverPos_recursive solver(chain);
  KDL::JntArray joints(6);
  joints.data = theta;
  KDL::Frame frame;
  return solver.JntToCart(joints, frame) == 0 &&
         KDL::Equal(frame, support::KdlFrameOf(FlangePose(arm, arm.PanelValues(theta))), 1e-10);
}

void KdlLma(benchmark::State& state) {
  const ArmModel arm = Arm();
  const Poses poses = MakePoses(arm);
  const KDL::Chain chain = support::KdlChainOf(Rows());
  if (!IsSameArm(chain, arm, poses.seeds[0])) return state.SkipWithError("the chains differ");
  support::TimeKdlLma(state, chain, poses.X_BF, poses.seeds);
}
BENCHMARK(KdlLma)->Name("InverseKinematics/kdl_lma")->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace aircut::kinematics
