// A path that was made for another cutter of the cell, cut by exact rays.
#include "verify/other_cutters.h"

#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "tests/support/set_up_errors.h"
#include "verify/cause_words.h"

namespace aircut::verify {
namespace {

using testing::HasSubstr;

constexpr double kRightAngle = 1.5707963267948966;

sim::Cutter Flat() { return sim::Cutter::Of(sim::FlatOutline({6, 40})); }

sim::CellCutter Numbered(int number, const sim::Cutter& cutter) {
  sim::CellCutter own;
  own.number = number;
  own.cutter = cutter;
  return own;
}

// The scene's path, led with another cutter than it was made for.
struct Led {
  sim::Job job;
  sim::Run run;
};

Led LedWith(const support::CarvingScene& scene, const sim::CellCutter& cutter) {
  sim::Job job;
  job.stock_S = scene.stock_S;
  job.design.depth_below_stock_mm = 1.0;   // any: the samples are the scene's own
  job.cell.cutters.emplace(cutter.number, cutter);
  sim::ToolTrack track = scene.track;
  track.tools[0].cutter = cutter.cutter;
  track.tools[0].number = cutter.number;
  return {job, support::CutOf(scene, track)};
}

// Oracle: the scene, whose path was made for a ball of 6 mm.
TEST(OtherCuttersTest, FlatInPlaceOfABallIsTold) {
  Led led = LedWith(support::RoseScene(), Numbered(2, Flat()));
  led.job.cell.cutters.emplace(1, Numbered(1, sim::Cutter::Ball(6, 40)));
  led.job.cell.cutters.emplace(3, Numbered(3, sim::Cutter::V(kRightAngle, 0.0, 16, 20)));
  const Deviation d = Measure(led.job, led.run);
  ASSERT_GT(d.p95_mm, led.job.accept.depth_mm.value);
  ASSERT_TRUE(d.cause.has_value());
  ASSERT_EQ(d.cause->best.parts.size(), 1u);
  EXPECT_EQ(d.cause->best.parts[0].kind, CauseKind::kOtherCutter);
  EXPECT_EQ(d.cause->best.parts[0].cutter, 1);
  EXPECT_GT(d.cause->best.share, 0.95);
  const std::string text = CauseText(*d.cause, led.job);
  EXPECT_THAT(text, HasSubstr("the path was made for cutter 1, which explains"));
  EXPECT_THAT(text, HasSubstr("measure the one in the spindle"));
}

// Oracle: the scene, whose path was made for a V of 90 degrees.
TEST(OtherCuttersTest, BallInPlaceOfAVIsTold) {
  Led led = LedWith(support::LetterScene(), Numbered(4, sim::Cutter::Ball(6, 40)));
  led.job.cell.cutters.emplace(7, Numbered(7, sim::Cutter::V(kRightAngle, 0.0, 16, 20)));
  led.job.cell.cutters.emplace(8, Numbered(8, Flat()));
  const Deviation d = Measure(led.job, led.run);
  ASSERT_TRUE(d.cause.has_value());
  EXPECT_EQ(d.cause->best.parts[0].kind, CauseKind::kOtherCutter);
  EXPECT_EQ(d.cause->best.parts[0].cutter, 7);
}

// A frame that lies low is no wrong cutter, whatever else stands in the cell.
TEST(OtherCuttersTest, OtherErrorsAreNotLaidOnTheCutter) {
  const support::CarvingScene scene = support::RoseScene();
  support::CarvingScene low = scene;
  for (Eigen::Vector3d& p : low.track.p_ST) p.z() -= 0.8;
  Led led = LedWith(low, Numbered(1, sim::Cutter::Ball(6, 40)));
  led.job.cell.cutters.emplace(2, Numbered(2, Flat()));
  led.job.cell.cutters.emplace(3, Numbered(3, sim::Cutter::Ball(10, 40)));
  const Deviation d = Measure(led.job, led.run);
  ASSERT_TRUE(d.cause.has_value());
  EXPECT_NE(d.cause->best.parts[0].kind, CauseKind::kOtherCutter);
  for (const CauseFit& rival : d.cause->rivals) EXPECT_NE(rival.parts[0].kind, CauseKind::kOtherCutter);
}

TEST(OtherCuttersTest, PathOfSeveralCuttersIsNotTried) {
  Led led = LedWith(support::RoseScene(), Numbered(2, Flat()));
  led.job.cell.cutters.emplace(1, Numbered(1, sim::Cutter::Ball(6, 40)));
  const Deviation d = Measure(led.job, led.run);
  const CauseField field = FieldForCauses(led.run, d);
  EXPECT_EQ(TryOtherCutters(led.job, led.run, field).size(), 1u);
  led.run.track.tools.push_back(led.run.track.tools[0]);
  led.run.track.sweeps.back().tool = 1;
  EXPECT_TRUE(TryOtherCutters(led.job, led.run, field).empty());
}

}  // namespace
}  // namespace aircut::verify
