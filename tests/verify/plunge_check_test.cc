#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

constexpr std::size_t kDown = 1;   // the sweep to line 3, from 10 mm above the field to -1 mm

sim::Cutter Flat() { return sim::Cutter::Of(sim::FlatOutline({6, 22})); }

// The first cut goes straight down and meets `axial_mm` of material.
MadeRun StraightDown(double axial_mm) {
  MadeRun made = MakeRun();
  made.run.track.p_ST[kDown] = made.run.track.p_ST[kDown + 1] + Eigen::Vector3d(0, 0, 11);
  made.run.cut.contact.sweeps[kDown].axial_mm = static_cast<float>(axial_mm);
  return made;
}

// Domain notes A15: half a diameter in wood; the cutter is a ball of 6 mm, the bound
// one voxel.
TEST(PlungeTest, DeeperThanHalfADiameterIsCaughtWithItsLine) {
  const CheckResult r = Check(StraightDown(4.0), CheckPlunge);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_DOUBLE_EQ(*r.limit, 3.0);
  EXPECT_DOUBLE_EQ(*r.worst, 4.0);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_EQ(r.findings[0].line, 3);
  EXPECT_THAT(r.findings[0].text, HasSubstr("plunge 4.00 mm"));
}

TEST(PlungeTest, HalfADiameterLessAVoxelStaysQuiet) {
  const double voxel_mm = MakeRun().run.cut.contact.voxel_mm;
  EXPECT_EQ(Check(StraightDown(3.0 - 1.01 * voxel_mm), CheckPlunge).result, Result::kPass);
  EXPECT_EQ(Check(StraightDown(3.0), CheckPlunge).result, Result::kUnproven);
}

// The drop of a pass on a slope is no plunge, nor is a deep way down through air.
TEST(PlungeTest, RampsAndClearedHolesStayQuiet) {
  MadeRun ramp = StraightDown(8.0);
  ramp.run.track.p_ST[kDown] += Eigen::Vector3d(12, 0, 0);   // 11 mm down over 12 mm
  EXPECT_EQ(Check(ramp, CheckPlunge).result, Result::kPass);
  EXPECT_EQ(Check(StraightDown(1.0), CheckPlunge).result, Result::kPass);
}

// Domain notes A15: without a cutting centre only ramps of 3 degrees.
TEST(PlungeTest, CutterWithoutCuttingCentreMustRamp) {
  MadeRun made = StraightDown(1.0);
  made.job.cell.cutters.at(1).centre_cutting = false;
  made.job.cell.cutters.at(1).cutter = Flat();
  EXPECT_EQ(Check(made, CheckPlunge).result, Result::kFail);
  made.run.track.p_ST[kDown] = made.run.track.p_ST[kDown + 1] + Eigen::Vector3d(10, 0, 0.6);   // 3.4 degrees
  EXPECT_EQ(Check(made, CheckPlunge).result, Result::kFail);
  made.run.track.p_ST[kDown] = made.run.track.p_ST[kDown + 1] + Eigen::Vector3d(10, 0, 0.45);   // 2.6 degrees
  EXPECT_EQ(Check(made, CheckPlunge).result, Result::kPass);
}

TEST(PlungeTest, FlatCutterOfWhichNothingIsSaidIsUnproven) {
  MadeRun made = StraightDown(1.0);
  made.job.cell.cutters.at(1).cutter = Flat();
  const CheckResult r = Check(made, CheckPlunge);
  ASSERT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs, testing::ElementsAre("`cutters.1.centre_cutting`"));
  made.job.cell.cutters.at(1).centre_cutting = true;
  EXPECT_EQ(Check(made, CheckPlunge).result, Result::kPass);
}

TEST(PlungeTest, LimitOfTheJobCounts) {
  MadeRun made = StraightDown(4.0);
  made.job.accept.plunge_diameters = {1.0, true};
  const CheckResult r = Check(made, CheckPlunge);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_FALSE(r.assumed);
}

}  // namespace
}  // namespace aircut::verify
