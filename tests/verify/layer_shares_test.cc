// Oracle: shares by hand, the projection of a shift on the depth direction of the samples that
// a sweep decides, weighted by area.

#include "verify/layer_shares.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::MadeRun;

// The made run with nothing bent and a tenth of its samples decided by sweep 3, where a corner
// is rounded by `shift`.
MadeRun WithCorner(const Eigen::Vector3f& shift) {
  MadeRun made = support::MakeRun();
  made.run.execution = {};
  sim::LayerShift corner{sim::ErrorLayer::kCornerRounding, {}};
  const Eigen::Vector3f none = Eigen::Vector3f::Zero();
  corner.of_sweep.assign(made.run.track.sweeps.size(), {none, none, none});
  corner.of_sweep[3] = {shift, shift, shift};
  made.run.execution.corner_rounding = corner;
  for (std::size_t i = 0; i < made.run.depths.size(); i += 10) made.run.depths[i].sweep = 3;
  return made;
}

LayerShare OnlyShare(const MadeRun& made) {
  const std::vector<LayerShare> shares = LayerSharesOf(made.run);
  EXPECT_EQ(shares.size(), 1u);
  return shares.empty() ? LayerShare{} : shares[0];
}

TEST(LayerSharesTest, CornerRoundingHasItsShareThoughNothingBends) {
  const LayerShare share = OnlyShare(WithCorner({0.3F, -0.2F, 0.04F}));
  EXPECT_EQ(share.layer, sim::ErrorLayer::kCornerRounding);
  EXPECT_NEAR(share.signed_mm_p95, 0.04, 1e-6);
  EXPECT_NEAR(share.mean_mm, 0.004, 1e-6);
}

TEST(LayerSharesTest, SignTellsLeftStandingFromCutTooDeep) {
  EXPECT_NEAR(OnlyShare(WithCorner({0, 0, -0.04F})).signed_mm_p95, -0.04, 1e-6);
}

TEST(LayerSharesTest, CornerWithinTheFaceHasNone) {
  const LayerShare share = OnlyShare(WithCorner({0.3F, -0.2F, 0}));
  EXPECT_EQ(share.signed_mm_p95, 0.0);
  EXPECT_EQ(share.mean_mm, 0.0);
}

// Only one sample in twenty is left in the corner, less one: 95 % of the area lie at zero.
TEST(LayerSharesTest, FewerSamplesThanOneInTwentyLeaveThePercentile) {
  MadeRun made = WithCorner({0, 0, 0.04F});
  for (std::size_t i = 0; i < made.run.depths.size(); i += 20) made.run.depths[i].sweep = 2;
  made.run.depths[10].sweep = 2;
  EXPECT_EQ(OnlyShare(made).signed_mm_p95, 0.0);
  EXPECT_GT(OnlyShare(made).mean_mm, 0.0);
}

TEST(LayerSharesTest, ComesBesideTheLayersThatBendAndIsNotAddedToThem) {
  MadeRun made = WithCorner({0, 0, 0.04F});
  sim::LayerShift arm{sim::ErrorLayer::kArm, {}};
  const Eigen::Vector3f d(0, 0, 0.01F);
  arm.of_sweep.assign(made.run.track.sweeps.size(), {d, d, d});
  made.run.execution.layers = {arm};
  made.run.execution.cuts = 2;
  const std::vector<LayerShare> shares = LayerSharesOf(made.run);
  ASSERT_EQ(shares.size(), 2u);
  EXPECT_EQ(shares[0].layer, sim::ErrorLayer::kArm);
  EXPECT_EQ(shares[1].layer, sim::ErrorLayer::kCornerRounding);
  const std::vector<sim::ErrorLayer> all(sim::kErrorLayers.begin(), sim::kErrorLayers.end());
  EXPECT_NEAR(ShiftOf(made.run.execution, 3, Eigen::Vector3d::UnitZ(), all).nominal, 0.01, 1e-6);
}

}  // namespace
}  // namespace aircut::verify
