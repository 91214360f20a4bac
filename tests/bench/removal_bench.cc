// Material removal: the finishing workload (160,800 sweeps of 0.5 mm) against the
// best that OpenVDB offers for it (all balls at once, no time order) and against one
// difference a pose, which keeps the order; the same way with other cutters; rays;
// threads; and the largest stock.
#include <chrono>
#include <cmath>
#include <random>

#include <sys/resource.h>

#include <benchmark/benchmark.h>
#include <openvdb/openvdb.h>
#include <openvdb/tools/Composite.h>
#include <openvdb/tools/LevelSetSphere.h>
#include <openvdb/tools/MeshToVolume.h>
#include <openvdb/tools/ParticlesToLevelSet.h>

#include "sim/depth_rays.h"
#include "sim/outline_shapes.h"
#include "sim/swept_cut.h"
#include "tests/support/ball_finishing.h"

namespace aircut::sim {
namespace {

// Root mean square of the height error over 3,000 places, in voxels.
double HeightErrorRms_voxel(const GridCut& cut, const ToolTrack& track, double voxel_mm) {
  std::mt19937_64 rng(7);
  std::uniform_real_distribution<double> coordinate(10.0, 190.0);
  double sum = 0.0;
  const int places = 3000;
  for (int n = 0; n < places; ++n) {
    const double x = coordinate(rng), y = coordinate(rng);
    const double exact = static_cast<double>(SweptHeight(track, x, y));
    double lo = exact - 2.0 * voxel_mm, hi = exact + 2.0 * voxel_mm;
    for (int i = 0; i < 50; ++i) {
      const double mid = 0.5 * (lo + hi);
      if (cut.stock.DistanceAt({x, y, mid}) < 0.0) lo = mid; else hi = mid;
    }
    sum += std::pow(0.5 * (lo + hi) - exact, 2);
  }
  return std::sqrt(sum / places) / voxel_mm;
}

void Ours(benchmark::State& state, double voxel_mm) {
  const ToolTrack track = BallFinishing(401);
  const auto block = FinishingBlock();
  CutOptions options;
  options.voxel_mm = voxel_mm;
  GridCut cut;
  for (auto _ : state) {
    cut = CutGrid(block, track, options);
    benchmark::DoNotOptimize(cut.removed_voxels);
  }
  state.counters["removed_mm3"] = cut.removed_mm3;
  state.counters["bricks"] = static_cast<double>(cut.stock.bricks.size());
  state.counters["height_rms_voxel"] = HeightErrorRms_voxel(cut, track, voxel_mm);
}

struct Balls {
  using PosType = openvdb::Vec3R;
  const ToolTrack* track;
  std::size_t size() const { return track->p_ST.size(); }
  void getPos(std::size_t n, openvdb::Vec3R& p) const {
    p = {track->p_ST[n].x(), track->p_ST[n].y(), track->p_ST[n].z() + 3.0};
  }
  void getPosRad(std::size_t n, openvdb::Vec3R& p, openvdb::Real& r) const {
    getPos(n, p);
    r = 3.0;
  }
};

void OpenVdb(benchmark::State& state, double voxel_mm) {
  openvdb::initialize();
  const ToolTrack track = BallFinishing(401);
  for (auto _ : state) {
    const auto transform = openvdb::math::Transform::createLinearTransform(voxel_mm);
    auto stock = openvdb::tools::createLevelSetBox<openvdb::FloatGrid>(
        openvdb::math::BBox<openvdb::Vec3s>({0, 0, -40}, {200, 200, 0}), *transform);
    auto balls = openvdb::FloatGrid::create(static_cast<float>(3.0 * voxel_mm));
    balls->setTransform(transform);
    balls->setGridClass(openvdb::GRID_LEVEL_SET);
    openvdb::tools::ParticlesToLevelSet<openvdb::FloatGrid> raster(*balls);
    raster.rasterizeSpheres(Balls{&track});
    raster.finalize();
    openvdb::tools::csgDifference(*stock, *balls);
    benchmark::DoNotOptimize(stock->activeVoxelCount());
  }
}

// One difference a pose over the whole stock, in time order. Only the first poses
// are run; the whole is that times their share, and said so in the counters.
void OpenVdbPoseByPose(benchmark::State& state, double voxel_mm) {
  openvdb::initialize();
  const ToolTrack track = BallFinishing(401);
  constexpr int kPoses = 300;
  double seconds = 0.0;
  for (auto _ : state) {
    const auto transform = openvdb::math::Transform::createLinearTransform(voxel_mm);
    auto stock = openvdb::tools::createLevelSetBox<openvdb::FloatGrid>(
        openvdb::math::BBox<openvdb::Vec3s>({0, 0, -40}, {200, 200, 0}), *transform);
    const auto start = std::chrono::steady_clock::now();
    for (std::size_t n = 0; n < kPoses; ++n) {
      const Eigen::Vector3d centre = track.p_ST[n] + Eigen::Vector3d(0, 0, 3);
      auto ball = openvdb::tools::createLevelSetSphere<openvdb::FloatGrid>(
          3.0f, openvdb::Vec3f(openvdb::Vec3d(centre.x(), centre.y(), centre.z())), static_cast<float>(voxel_mm));
      openvdb::tools::csgDifference(*stock, *ball);
    }
    seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    state.SetIterationTime(seconds);
  }
  state.counters["poses_run"] = kPoses;
  state.counters["extrapolated_s"] = seconds * static_cast<double>(track.p_ST.size()) / kPoses;
}

Cutter VBit() { return Cutter::V(std::acos(-1.0) / 3.0, 0.1, 12.0, 22.0); }

void Leaning(benchmark::State& state, const Cutter& cutter, double voxel_mm) {
  const ToolTrack track = LeaningFinishing(cutter, 401);
  const auto block = FinishingBlock();
  CutOptions options;
  options.voxel_mm = voxel_mm;
  for (auto _ : state) benchmark::DoNotOptimize(CutGrid(block, track, options).removed_voxels);
}

void Upright(benchmark::State& state, const Cutter& cutter, int threads) {
  const ToolTrack track = Finishing(cutter, 401);
  const auto block = FinishingBlock();
  CutOptions options;
  options.threads = threads;
  for (auto _ : state) benchmark::DoNotOptimize(CutGrid(block, track, options).removed_voxels);
}

// Rays 0.1 mm apart over the whole face: four million.
void Rays(benchmark::State& state, const ToolTrack& track) {
  const auto block = FinishingBlock();
  std::vector<DepthRay> rays;
  for (int i = 0; i < 2000; ++i) {
    for (int j = 0; j < 2000; ++j) rays.push_back({{0.05 + 0.1 * i, 0.05 + 0.1 * j, -2.0}, Eigen::Vector3d::UnitZ()});
  }
  for (auto _ : state) benchmark::DoNotOptimize(CutRays(*block, track, rays, 0.0, 2).data());
}

double PeakGib() {
  rusage usage = {};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / (1024.0 * 1024.0);
}

// A stock of 1 m^3 at 0.5 mm under 1,000,000 sweeps of 0.5 mm, rows 2 mm apart. Run
// alone, since the peak is the whole process's.
void CubicMetre(benchmark::State& state) {
  ToolTrack track;
  track.tools.push_back({1, Cutter::Ball(12.0, 40.0), {}});
  for (int row = 0; row < 500; ++row) {
    for (int n = 0; n < 2000; ++n) {
      const double x = 0.5 * (row % 2 == 0 ? n : 1999 - n), y = 2.0 * row;
      track.p_ST.push_back({x, y, -3.0 + std::sin(x / 40.0) * std::cos(y / 60.0)});
      track.axis_S.push_back(Eigen::Vector3d::UnitZ());
      track.time_s.push_back(0.02 * static_cast<double>(track.time_s.size()));
    }
  }
  track.sweeps.resize(track.p_ST.size() - 1);
  const auto block = std::make_shared<const MeshIndex>(BoxMesh({0.0, 0.0, -1000.0}, {1000.0, 1000.0, 0.0}));
  CutOptions options;
  options.voxel_mm = 0.5;
  for (auto _ : state) benchmark::DoNotOptimize(CutGrid(block, track, options).removed_voxels);
  state.counters["peak_gib"] = PeakGib();
  state.counters["estimate_gib"] = CutMemory(*block, track, options) / std::pow(1024.0, 3);
}

BENCHMARK_CAPTURE(Ours, 250um, 0.25)->Name("BallFinishing_0.25mm/ours")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Ours, 100um, 0.1)->Name("BallFinishing_0.1mm/ours")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(OpenVdb, 250um, 0.25)->Name("BallFinishing_0.25mm/openvdb")->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1);
BENCHMARK_CAPTURE(OpenVdbPoseByPose, 250um, 0.25)->Name("BallFinishing_0.25mm/openvdb_pose_by_pose")->Unit(benchmark::kMillisecond)->UseManualTime()->Iterations(1);
BENCHMARK_CAPTURE(Leaning, v_250um, VBit(), 0.25)->Name("FiveAxisFinishing_0.25mm/v")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Leaning, v_100um, VBit(), 0.1)->Name("FiveAxisFinishing_0.1mm/v")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Leaning, flat, Cutter::Of(FlatOutline({6, 22})), 0.25)->Name("FiveAxisFinishing_0.25mm/flat")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Leaning, bull, Cutter::Of(BullNoseOutline({6, 22}, 1)), 0.25)->Name("FiveAxisFinishing_0.25mm/bull_nose")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Upright, flat, Cutter::Of(FlatOutline({6, 22})), 2)->Name("Finishing_0.25mm/flat")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Upright, bull, Cutter::Of(BullNoseOutline({6, 22}, 1)), 2)->Name("Finishing_0.25mm/bull_nose")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Upright, one, Cutter::Ball(6, 22), 1)->Name("Finishing_0.25mm_threads/1")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Upright, two, Cutter::Ball(6, 22), 2)->Name("Finishing_0.25mm_threads/2")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Rays, ball, BallFinishing(401))->Name("Rays_0.1mm/ball")->MinTime(3)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Rays, v, LeaningFinishing(VBit(), 401))->Name("Rays_0.1mm/v_five_axis")->MinTime(3)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Rays, v3, Finishing(VBit(), 401))->Name("Rays_0.1mm/v")->MinTime(3)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Rays, flat, Finishing(Cutter::Of(FlatOutline({6, 22})), 401))->Name("Rays_0.1mm/flat")->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1);
BENCHMARK(CubicMetre)->Name("CubicMetre_0.5mm")->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1);

}  // namespace
}  // namespace aircut::sim
