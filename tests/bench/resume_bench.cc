// Going on after an edit in the last tenth of the finishing workload, against the
// whole cut: states read from disk, the rest cut, the new states written.
#include <filesystem>

#include <benchmark/benchmark.h>
#include <unistd.h>

#include "sim/resumed_cut.h"
#include "tests/support/ball_finishing.h"

namespace aircut::sim {
namespace {

namespace fs = std::filesystem;

CutOptions Options() {
  CutOptions options;
  options.voxel_mm = 0.25;
  return options;
}

void WholeCut(benchmark::State& state) {
  const ToolTrack track = BallFinishing(401);
  const auto block = FinishingBlock();
  for (auto _ : state) benchmark::DoNotOptimize(CutGrid(block, track, Options()).removed_voxels);
}

// The edit begins where the last tenth does, which leaves the most to cut. Every pass
// edits another depth, so that the states saved before the edit are what it goes on from.
void AfterLateEdit(benchmark::State& state) {
  const fs::path folder = fs::temp_directory_path() / ("aircut_resume_bench_" + std::to_string(getpid()));
  ToolTrack track = BallFinishing(401);
  const auto block = FinishingBlock();
  CutResumed(block, track, Options(), {folder, {}});
  std::int32_t taken_up = 0;
  for (auto _ : state) {
    state.PauseTiming();
    for (std::size_t i = track.p_ST.size() * 9 / 10 + 2; i < track.p_ST.size(); ++i) track.p_ST[i].z() -= 0.01;
    state.ResumeTiming();
    taken_up = CutResumed(block, track, Options(), {folder, {}}).taken_up;
  }
  state.counters["share_taken_up"] = static_cast<double>(taken_up) / static_cast<double>(track.sweeps.size());
  fs::remove_all(folder);
}

BENCHMARK(WholeCut)->Name("ResumeLateEdit/whole")->MinTime(3)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(AfterLateEdit)->Name("ResumeLateEdit/ours")->MinTime(3)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace aircut::sim
