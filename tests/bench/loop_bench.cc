// The loop of forces, displacements and cuts until both settle, against one cut of the same
// track: grid, load and rays. The stated bound is a ratio of 4. The transom with springs added,
// and the groove in the soft cradle, whose force falls by half as it gives way.
#include <string>

#include <benchmark/benchmark.h>

#include "sim/dry_run.h"
#include "sim/executed_loop.h"
#include "sim/spindle_rates.h"

namespace aircut::sim {
namespace {

struct Workload {
  Job job;
  RunOptions options;
  Run run;                       // as commanded
  std::vector<DepthRay> rays;
};

Workload MakeWorkload(Job job) {
  RunOptions options;
  options.resolution_mm = job.resolution_mm;
  RunOptions rigid = options;
  rigid.without.insert(kErrorLayers.begin(), kErrorLayers.end());
  rigid.without.erase(ErrorLayer::kCornerRounding);
  Run run = Execute(job, rigid);
  std::vector<DepthRay> rays;
  for (const DesignSample& sample : run.samples) rays.push_back(sample.ray);
  return {std::move(job), options, std::move(run), std::move(rays)};
}

// Stiffness as in the scene soft_fixture, a cradle of 500 N/mm, oak (all invented).
Workload Transom() {
  Job job = LoadJob(std::string(AIRCUT_SCENES) + "/transom/job.yaml", {});
  const double stiffness_nm_rad[] = {2.4e6, 3.0e6, 2.2e6, 4.0e5, 4.0e5, 3.0e5};
  for (std::size_t j = 0; j < job.cell.drives.size(); ++j) job.cell.drives[j].stiffness_nm_rad = stiffness_nm_rad[j];
  job.cell.fixture_n_per_mm = Eigen::Vector3d::Constant(500);
  job.material.emplace();
  job.material->cutting_force_n_mm2 = {37.5, 15.0, 4.0};
  job.material->edge_force_n_mm = {4.1, 3.0, 0.5};
  job.material->band = 0.3;
  return MakeWorkload(std::move(job));
}
Workload SoftCradle() { return MakeWorkload(LoadJob(std::string(AIRCUT_SCENES) + "/soft_fixture/springy.job.yaml", {})); }

void Loop(benchmark::State& state, Workload (*make)()) {
  const Workload w = make();
  Execution execution;
  for (auto _ : state) execution = CutAsExecuted(w.job, w.options, w.run, w.rays).execution;
  if (!execution.displaced() || !execution.settled) state.SkipWithError("the loop no longer displaces, or no longer settles");
  state.counters["cuts"] = execution.cuts;
}

void SingleCut(benchmark::State& state, Workload (*make)()) {
  const Workload w = make();
  const SpindleRates rates = SpindleRatesOf(w.job, w.run);
  CutOptions options;
  options.voxel_mm = w.options.resolution_mm;
  options.threads = w.options.threads;
  for (auto _ : state) {
    const GridCut cut = CutGrid(w.job.stock_S, w.run.track, options);
    const CuttingLoad load = ComputeCuttingLoad({w.run.track, cut.contact, rates, w.run.load.force, options.threads});
    const auto depths = CutRays(*w.job.stock_S, w.run.track, w.rays, kFaceSlack_mm, options.threads);
    benchmark::DoNotOptimize(load.sweeps.data());
    benchmark::DoNotOptimize(depths.data());
  }
}

BENCHMARK_CAPTURE(Loop, transom, Transom)->Name("ExecutedLoop/ours/transom")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(SingleCut, transom, Transom)->Name("ExecutedLoop/single_cut/transom")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Loop, soft_cradle, SoftCradle)->Name("ExecutedLoop/ours/soft_cradle")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(SingleCut, soft_cradle, SoftCradle)->Name("ExecutedLoop/single_cut/soft_cradle")->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace aircut::sim
