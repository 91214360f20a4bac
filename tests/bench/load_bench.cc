// Load on the cutter for 100,000 moments of finishing with a ball, a V and a turning axis,
// against the same sums from the definition, element by element.
#include <cmath>

#include <benchmark/benchmark.h>

#include "kinematics/units.h"
#include "sim/cutting_load.h"
#include "sim/edge_sums.h"
#include "sim/swept_cut.h"
#include "tests/support/ball_finishing.h"

namespace aircut::sim {
namespace {

struct Workload {
  ToolTrack track;
  ContactRecord contacts;
  SpindleRates rates;
  ForceBand force;
};

// 251 rows of 400 sweeps.
Workload MakeWorkload(ToolTrack track) {
  Workload w{std::move(track), {}, {}, {}};
  CutOptions options;
  w.contacts = CutGrid(FinishingBlock(), w.track, options).contact;
  w.rates = {{{2, true}}, std::vector<double>(w.track.sweeps.size(), 18000.0)};
  Material oak;
  oak.cutting_force_n_mm2 = {37.5, 15.0, 4.0};
  oak.edge_force_n_mm = {4.1, 3.0, 0.5};
  oak.band = 0.7;
  w.force = *ForceBandOf(oak);
  return w;
}

void Ours(benchmark::State& state, const ToolTrack& track) {
  const Workload w = MakeWorkload(track);
  std::size_t loads = 0;
  for (auto _ : state) {
    const CuttingLoad load = ComputeCuttingLoad({w.track, w.contacts, w.rates, w.force, 2});
    loads = load.sweeps.size();
    benchmark::DoNotOptimize(load.sweeps.data());
  }
  state.counters["moments"] = static_cast<double>(loads);
}

// One engagement by 64 elements along the edge and 128 angles, chips only.
double PlainSum(const CutterOutline& outline, double high_mm) {
  double sum = 0.0;
  for (const OutlinePiece& piece : outline.pieces) {
    const Eigen::Vector2d a = piece.from - piece.centre, b = piece.to - piece.centre;
    const double turn = std::atan2(a.x() * b.y() - a.y() * b.x(), a.dot(b));
    Eigen::Vector2d before = piece.from;
    for (int i = 1; i <= 64; ++i) {
      const double u = i / 64.0;
      const Eigen::Vector2d p = piece.arc ? Eigen::Vector2d(piece.centre + Eigen::Rotation2Dd(u * turn) * a)
                                          : Eigen::Vector2d(piece.from + u * (piece.to - piece.from));
      const Eigen::Vector2d step = p - before;
      before = p;
      if (p.y() > high_mm) break;
      for (int k = 0; k < 128; ++k) {
        const double h = step.y() * std::cos((k + 0.5) / 128 * 2 * kinematics::kPi);
        sum += h > 0.0 ? h : 0.0;
      }
    }
  }
  return sum;
}

void ElementByElement(benchmark::State& state) {
  const CutterOutline outline = Cutter::Ball(6.0, 22.0).outline();
  for (auto _ : state) {
    double sum = 0.0;
    for (int i = 0; i < 100'000; ++i) sum += PlainSum(outline, 2.0 + 1e-6 * i);
    benchmark::DoNotOptimize(sum);
  }
}

BENCHMARK_CAPTURE(Ours, ball, BallFinishing(251))->Name("CuttingLoad/ours/ball")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Ours, v, Finishing(Cutter::V(1.0471975511965976, 0.2, 12.0, 12.0), 251))
    ->Name("CuttingLoad/ours/v_60")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Ours, leaning, LeaningFinishing(Cutter::Ball(6.0, 22.0), 251))
    ->Name("CuttingLoad/ours/ball_turning_axis")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(ElementByElement)->Name("CuttingLoad/element_by_element/ball")->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace aircut::sim
