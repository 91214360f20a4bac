// Load on the cutter for 100,000 moments of finishing with a ball, a V and a turning axis,
// against the same sums from the definition, element by element; and load with displacement
// of all layers, for which 300 ms are allowed.
#include <cmath>

#include <benchmark/benchmark.h>

#include "kinematics/units.h"
#include "sim/cutting_load.h"
#include "sim/displacement.h"
#include "sim/edge_sums.h"
#include "sim/swept_cut.h"
#include "tests/support/ball_finishing.h"
#include "tests/support/sample_arm.h"

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

// A cell in which everything bends: payload, arm, spindle, cutter, fixture, lost motion, drift.
Job BendingJob() {
  Job job;
  Cell& cell = job.cell;
  cell.arm = std::make_shared<const kinematics::ArmModel>(support::SampleArm());
  cell.drives.assign(6, JointDrive{1e6, 1e-4});
  cell.payload = Payload{120, 14, Eigen::Vector3d(0, 0, 130)};
  cell.X_FH = kinematics::MakePose(Eigen::AngleAxisd(kinematics::kPi, Eigen::Vector3d::UnitX()).toRotationMatrix(), {0, 0, 150});
  cell.spindle_spring = SpindleSpring{8000, 20000};
  cell.fixture_n_per_mm = Eigen::Vector3d(500, 500, 500);
  cell.drift = {{2, 0, {0, 0, 0}}, {3, 1e6, {0, 0, 0.4}}};
  CellCutter cutter;
  cutter.number = 1;
  cutter.cutter = Cutter::Ball(6.0, 22.0);
  cutter.shank_diameter_mm = 6.0;
  cutter.stick_out_mm = cutter.measured_stick_out_mm = 40.0;
  cell.cutters.emplace(1, cutter);
  return job;
}

// The arm sweeps to and fro: what is asked of a posture does not depend on where it is.
kinematics::MotionTrack SweepingMotion(const ToolTrack& track) {
  kinematics::MotionTrack motion;
  for (std::size_t m = 0; m < track.p_ST.size(); ++m) {
    const double way = std::sin(1e-3 * static_cast<double>(m));
    motion.q.push_back(support::PanelFromDeg({10 + 20 * way, 20, 30 - 10 * way, 15, 60, 40}));
  }
  motion.time_s = track.time_s;
  motion.phase.assign(track.p_ST.size(), kinematics::Phase::kCut);
  return motion;
}

void LoadAndDisplacement(benchmark::State& state) {
  const Workload w = MakeWorkload(BallFinishing(251));
  const Job job = BendingJob();
  const kinematics::MotionTrack motion = SweepingMotion(w.track);
  const std::set<ErrorLayer> without;
  std::size_t layers = 0;
  for (auto _ : state) {
    const CuttingLoad load = ComputeCuttingLoad({w.track, w.contacts, w.rates, w.force, 2});
    const Displacements found = ComputeDisplacements({job, motion, w.track, load, kinematics::Pose::Identity(), without, 2});
    layers = found.layers.size();
    benchmark::DoNotOptimize(found.layers.data());
  }
  if (layers != 6) state.SkipWithError("not every layer was reckoned");
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
BENCHMARK(LoadAndDisplacement)->Name("LoadAndDisplacement/ours")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(ElementByElement)->Name("CuttingLoad/element_by_element/ball")->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace aircut::sim
