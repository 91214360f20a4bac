// The loop on the shipped scene soft_fixture. Oracle: a cone cuts with a force that grows
// with its depth, so a spring under it gives F / (k + F / depth), springs in series; F is
// taken from the run on the firm cradle.

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/dry_run.h"

namespace aircut::sim {
namespace {

constexpr double kDepth_mm = 3.0, kFirm_n_mm = 2000.0, kSpringy_n_mm = 5.0;

struct Result {
  Run run;
  double error_mm = 0;          ///< mean over the carved samples away from the groove's ends
  double upward_n = 0;          ///< mean force on the tool along z there
};

Result RunOf(Job job, const std::set<ErrorLayer>& without = {}) {
  RunOptions options;
  options.resolution_mm = job.resolution_mm;
  options.without = without;
  Result result{Execute(job, options), 0, 0};
  int count = 0, loads = 0;
  for (std::size_t i = 0; i < result.run.samples.size(); ++i) {
    const DesignSample& sample = result.run.samples[i];
    const RayDepth& depth = result.run.depths[i];
    if (sample.role != DesignSample::Role::kCarve || depth.sweep < 0 || std::abs(sample.ray.p_SQ.x()) > 40) continue;
    // On the groove's own line: beside it the wall is what is measured.
    if (std::abs(sample.ray.p_SQ.y()) > 0.6) continue;
    result.error_mm += depth.top_mm;
    ++count;
    const SweepLoad* load = result.run.load.Of(static_cast<std::size_t>(depth.sweep));
    if (load == nullptr) continue;
    result.upward_n += load->mean_S_n[kNominal].z();
    ++loads;
  }
  result.error_mm /= count;
  result.upward_n /= loads;
  return result;
}

Job Scene(const std::string& name) { return LoadJob(std::string(AIRCUT_SCENES) + "/soft_fixture/" + name + ".job.yaml", {}); }

const Result& Firm() {
  static const Result result = RunOf(Scene("firm"));
  return result;
}
const Result& Springy() {
  static const Result result = RunOf(Scene("springy"));
  return result;
}

TEST(ExecutedLoopTest, SoftFixtureLiftsTheCutAsSpringsInSeriesDo) {
  const double force_n = Firm().upward_n;
  ASSERT_GT(force_n, 1.0);
  const double lifted_mm = force_n / (kSpringy_n_mm + force_n / kDepth_mm);
  const double more_mm = Springy().error_mm - Firm().error_mm;
  EXPECT_NEAR(more_mm / lifted_mm, 1.0, 0.10);
  EXPECT_LT(more_mm, force_n / kSpringy_n_mm);   // what it would be if the force stayed
}

TEST(ExecutedLoopTest, FirmFixtureSettlesAtOnceAndCostsNextToNothing) {
  const Execution& execution = Firm().run.execution;
  EXPECT_TRUE(execution.settled);
  EXPECT_EQ(execution.cuts, 2);
  EXPECT_LT(std::abs(Firm().error_mm), 0.1);
  const LayerShift* fixture = execution.Of(ErrorLayer::kFixture);
  ASSERT_NE(fixture, nullptr);
  for (const auto& shift : fixture->of_sweep) EXPECT_LT(std::abs(shift[kNominal].z()), 1.5 * 20 / kFirm_n_mm);
}

TEST(ExecutedLoopTest, SoftFixtureSettlesWithinTheCutsAllowed) {
  const Execution& execution = Springy().run.execution;
  EXPECT_TRUE(execution.settled) << execution.moved_mm;
  EXPECT_LE(execution.cuts, 6);
  ASSERT_EQ(execution.recuts.size(), 1u);
  EXPECT_EQ(execution.recuts[0].layer, ErrorLayer::kFixture);
  EXPECT_NEAR(execution.recuts[0].first_order_mm / execution.recuts[0].recut_mm, 1.0, 0.15);
}

TEST(ExecutedLoopTest, StifferNeverIncreasesTheError) {
  Job job = Scene("springy");
  job.cell.push_test.clear();
  double before_mm = 1e9;
  for (const double k : {5.0, 20.0, 100.0}) {
    job.cell.fixture_n_per_mm = Eigen::Vector3d(2000, 2000, k);
    const double error_mm = RunOf(job).error_mm;
    EXPECT_LT(error_mm, before_mm) << k;
    before_mm = error_mm;
  }
}

// Without its springs the run is that of the commanded tool, to the last bit.
TEST(ExecutedLoopTest, WithoutTheLayersNothingIsDisplaced) {
  const Result rigid = RunOf(Scene("springy"), {ErrorLayer::kArm, ErrorLayer::kTool, ErrorLayer::kFixture});
  EXPECT_FALSE(rigid.run.execution.displaced());
  Job job = Scene("springy");
  job.material.reset();
  const Result unloaded = RunOf(job);
  EXPECT_FALSE(unloaded.run.execution.displaced());
  EXPECT_EQ(rigid.run.cut.removed_voxels, unloaded.run.cut.removed_voxels);
  ASSERT_EQ(rigid.run.depths.size(), unloaded.run.depths.size());
  for (std::size_t i = 0; i < rigid.run.depths.size(); ++i) {
    EXPECT_EQ(rigid.run.depths[i].top_mm, unloaded.run.depths[i].top_mm);
  }
  ASSERT_EQ(Springy().run.execution.nominal_top_mm.size(), rigid.run.depths.size());
  for (std::size_t i = 0; i < rigid.run.depths.size(); ++i) {
    EXPECT_EQ(Springy().run.execution.nominal_top_mm[i], rigid.run.depths[i].top_mm);
  }
}

}  // namespace
}  // namespace aircut::sim
