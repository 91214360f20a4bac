// What the deviation of 500,000 design samples costs with its statistics, regions and
// probable cause, beside the same within tolerance, where no cause is looked for. The
// found size is checked.

#include <cmath>
#include <cstdlib>
#include <string>

#include <benchmark/benchmark.h>

#include "verify/cause_field.h"

namespace aircut::verify {
namespace {

constexpr int kRow = 707;   // 707 x 707 = 499,849
constexpr double kSpacing_mm = 0.3;

double Relief(double x, double y) { return 2.0 * std::sin(x / 9.0) * std::cos(y / 11.0); }

// A relief whose path is displaced by `shift_mm` in x.
sim::Run Field(double shift_mm) {
  sim::Run run;
  run.sample_spacing_mm = kSpacing_mm;
  run.track.tools.push_back({1, sim::Cutter::Ball(6.0, 20.0), {}});
  run.track.p_ST.assign(2, Eigen::Vector3d::Zero());
  run.track.axis_S.assign(2, Eigen::Vector3d::UnitZ());
  run.track.time_s = {0.0, 1.0};
  run.track.sweeps.resize(1);
  for (int i = 0; i < kRow * kRow; ++i) {
    const double x = kSpacing_mm * (i % kRow), y = kSpacing_mm * (i / kRow);
    sim::DesignSample s;
    s.ray = {{x, y, Relief(x, y)}, Eigen::Vector3d::UnitZ()};
    s.area_mm2 = kSpacing_mm * kSpacing_mm;
    run.samples.push_back(s);
    sim::RayDepth d;
    d.has_material = d.touched = true;
    d.stock_top_mm = 5.0 - s.ray.p_SQ.z();
    d.top_mm = Relief(x - shift_mm, y) - s.ray.p_SQ.z();
    d.bottom_mm = -20.0;
    d.sweep = 0;
    run.depths.push_back(d);
  }
  return run;
}

void MeasureField(benchmark::State& state, double shift_mm) {
  const sim::Job job;
  const sim::Run run = Field(shift_mm);
  for (auto _ : state) {
    const Deviation d = Measure(job, run);
    const bool found = d.cause && std::abs(d.cause->best.parts.front().size - shift_mm) < 0.02 * shift_mm;
    if (found != (shift_mm > 1.0)) std::abort();
  }
}
BENCHMARK_CAPTURE(MeasureField, with_cause, 2.5)->Name("Deviation/with_cause")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(MeasureField, within_tolerance, 0.5)->Name("Deviation/within_tolerance")->Unit(benchmark::kMillisecond)->UseRealTime();

// Three regions with limits of their own, one of them an outline of a hundred corners.
void MeasureByRegion(benchmark::State& state) {
  sim::Job job;
  for (int n = 0; n < 3; ++n) {
    sim::AcceptRegion region;
    region.name = std::string(1, static_cast<char>('a' + n));
    region.box_S = {Eigen::Vector3d(20.0 * n, 20.0 * n, -10.0), Eigen::Vector3d(20.0 * n + 60.0, 20.0 * n + 60.0, 10.0)};
    for (int k = 0; k < 100 && n == 2; ++k) {
      region.outline_S.emplace_back(70.0 + 30.0 * std::cos(0.0628 * k), 70.0 + 30.0 * std::sin(0.0628 * k));
    }
    region.depth_mm = 0.6 + 0.1 * n;
    region.gouge_mm = region.leftover_mm = 1.2;
    job.accept.regions.push_back(region);
  }
  const sim::Run run = Field(0.5);
  for (auto _ : state) {
    if (Measure(job, run).by_limit.size() != 4) std::abort();
  }
}
BENCHMARK(MeasureByRegion)->Name("Deviation/by_region")->Unit(benchmark::kMillisecond)->UseRealTime();

void CauseOfField(benchmark::State& state) {
  const sim::Job job;
  const sim::Run run = Field(2.5);
  const Deviation d = Measure(job, run);
  for (auto _ : state) benchmark::DoNotOptimize(FindCause(FieldForCauses(run, d)));
}
BENCHMARK(CauseOfField)->Name("Deviation/cause_alone")->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace aircut::verify
