// Inverse kinematics of an arm with an offset wrist, which has no closed form, at
// 2,000 reachable poses: the search, which looks for all postures, and one
// continuation step of a posture in hand, against a numerical solver from random
// seeds, on the same poses in one run.
#include <cstdint>
#include <random>
#include <vector>

#include <benchmark/benchmark.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/numeric_ik.h"
#include "tests/bench/kdl_lma.h"
#include "tests/support/random_pose.h"
#include "tests/support/searched_arms.h"

namespace aircut::kinematics {
namespace {

constexpr int kPoses = 2000;
// A step along a path: 0.5 mm and 0.1 degrees are of this size in the joints.
constexpr double kStep_rad = 1e-3;

struct Poses {
  std::vector<JointVector> q, seeds;
  std::vector<Pose> X_BF;
};

Poses MakePoses(const ArmModel& arm) {
  std::mt19937_64 rng(20260830);
  Poses poses;
  for (int i = 0; i < kPoses; ++i) {
    poses.q.push_back(support::RandomPanelValues(rng, arm));
    poses.seeds.push_back(arm.ModelAngles(support::RandomPanelValues(rng, arm)));
    poses.X_BF.push_back(FlangePose(arm, poses.q.back()));
  }
  return poses;
}

void Search(benchmark::State& state) {
  const ArmModel arm = support::OffsetWristArm();
  const NumericIk search(arm);
  const Poses poses = MakePoses(arm);
  std::int64_t solved = 0, solutions = 0;
  for (auto _ : state) {
    for (const Pose& X_BF : poses.X_BF) {
      const SearchedSolutions found = search.Solve(X_BF);
      solved += found.count > 0 ? 1 : 0;
      solutions += found.count;
    }
  }
  const double all = static_cast<double>(state.iterations() * kPoses);
  state.SetItemsProcessed(state.iterations() * kPoses);
  state.counters["solved_share"] = static_cast<double>(solved) / all;
  state.counters["postures_a_pose"] = static_cast<double>(solutions) / all;
}
BENCHMARK(Search)->Name("SearchedKinematics/ours_all_postures")->Unit(benchmark::kMillisecond);

void Continue(benchmark::State& state) {
  const ArmModel arm = support::OffsetWristArm();
  const NumericIk search(arm);
  const Poses poses = MakePoses(arm);
  std::vector<JointVector> beside = poses.q;
  for (JointVector& q : beside) q.array() += kStep_rad;
  std::int64_t solved = 0;
  for (auto _ : state) {
    for (std::size_t i = 0; i < beside.size(); ++i) {
      if (search.Continue(poses.X_BF[i], beside[i])) ++solved;
    }
  }
  state.SetItemsProcessed(state.iterations() * kPoses);
  state.counters["solved_share"] =
      static_cast<double>(solved) / static_cast<double>(state.iterations() * kPoses);
}
BENCHMARK(Continue)->Name("SearchedKinematics/ours_continued")->Unit(benchmark::kMillisecond);

void KdlLma(benchmark::State& state) {
  const Poses poses = MakePoses(support::OffsetWristArm());
  support::TimeKdlLma(state, support::KdlChainOf(support::OffsetWristRows()), poses.X_BF, poses.seeds);
}
BENCHMARK(KdlLma)->Name("SearchedKinematics/kdl_lma_one_posture")->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace aircut::kinematics
