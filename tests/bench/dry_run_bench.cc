// Whole dry run of the demo scene, stage by stage: load, execute, check, write.
#include <filesystem>
#include <string>

#include <benchmark/benchmark.h>

#include "sim/dry_run.h"
#include "verify/check.h"
#include "verify/report.h"
#include "verify/verdict.h"

namespace aircut {
namespace {

void DryRunTransom(benchmark::State& state) {
  const std::string job_file = std::string(AIRCUT_SCENES) + "/transom/job.yaml";
  const auto folder = std::filesystem::temp_directory_path() / "aircut_bench_report";
  sim::RunOptions options;
  options.resolution_mm = 0.25;
  verify::Verdict verdict;
  std::map<std::string, double> stages;
  for (auto _ : state) {
    const sim::Job job = sim::LoadJob(job_file, {});
    const sim::Run run = sim::Execute(job, options);
    const verify::Deviation deviation = verify::Measure(job, run);
    const auto checks = verify::RunChecks({job, run, deviation});
    verdict = verify::Judge(job, checks);
    verify::ReportContext context{job, run, deviation, checks, verdict};
    context.resolution_mm = options.resolution_mm;
    context.threads = options.threads;
    verify::WriteReport(context, folder);
    stages = run.stage_s;
  }
  std::filesystem::remove_all(folder);
  if (verdict.result != verify::Result::kPass) state.SkipWithError("the demo no longer passes");
  for (const auto& [stage, seconds] : stages) state.counters[stage + "_s"] = seconds;
}

BENCHMARK(DryRunTransom)->Name("DryRunTransom_0.25mm/ours")->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace aircut
