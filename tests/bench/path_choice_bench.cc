// Spin and posture over the whole path: a lattice of 36 spins and 8 postures.
#include <benchmark/benchmark.h>

#include <cmath>

#include "kinematics/whole_path_choice.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

// Rows over a wavy relief, 0.5 mm a line, the tool leaning along.
PlanRequest Relief(const ArmModel& arm, const int lines) {
  ToolPath path{Line(1, {0, 0, 20}, 0, MoveKind::kRapid)};
  constexpr int kPerRow = 500;
  for (int i = 0; i < lines; ++i) {
    const int row = i / kPerRow, along = i % kPerRow;
    const double x = 0.5 * (row % 2 == 0 ? along : kPerRow - along), y = 0.5 * row;
    const Eigen::Vector3d axis_S(0.2 * std::sin(x / 40.0), 0.15 * std::cos(y / 30.0), 1);
    path.push_back(Line(i + 2, {x, y, 3.0 * std::sin(x / 15.0)}, 25.0, MoveKind::kCut, axis_S));
  }
  PlanRequest request = Request(arm, path);
  request.spin = SpinRule::kFree;
  return request;
}

void WholePathChoice36Spins(benchmark::State& state) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = Relief(arm, static_cast<int>(state.range(0)));
  const PathTargets targets(request);
  const BranchFollower follower(arm);
  for (auto _ : state) {
    const WholePathChoice choice = ChooseWholePath(targets, follower, {});
    if (!choice.complete) state.SkipWithError("no unbroken way");
    benchmark::DoNotOptimize(choice.freedom.data());
  }
  state.SetItemsProcessed(state.iterations() * state.range(0));
}
BENCHMARK(WholePathChoice36Spins)->Name("WholePathChoice/ours")->Arg(25'000)->Arg(50'000)->Arg(100'000)->Unit(benchmark::kSecond)->UseRealTime();

}  // namespace
}  // namespace aircut::kinematics
