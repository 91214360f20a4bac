// Material removal: the finishing workload of design.md section 9 against the
// best that OpenVDB offers for it (all balls at once, no time order).
#include <random>

#include <benchmark/benchmark.h>
#include <openvdb/openvdb.h>
#include <openvdb/tools/Composite.h>
#include <openvdb/tools/LevelSetSphere.h>
#include <openvdb/tools/MeshToVolume.h>
#include <openvdb/tools/ParticlesToLevelSet.h>

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

BENCHMARK_CAPTURE(Ours, 250um, 0.25)->Name("BallFinishing_0.25mm/ours")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(Ours, 100um, 0.1)->Name("BallFinishing_0.1mm/ours")->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK_CAPTURE(OpenVdb, 250um, 0.25)->Name("BallFinishing_0.25mm/openvdb")->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1);

}  // namespace
}  // namespace aircut::sim
