// Oracles: closed forms of cantilevers, external checks STF-01 to STF-04, and laws of them.

#include "sim/springs.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/outline_shapes.h"

namespace aircut::sim {
namespace {

constexpr double kRelative = 1e-6;   // of the published rows

CellCutter FlatCutter(double diameter_mm, double flute_length_mm, double shank_mm, double stick_out_mm) {
  CellCutter cutter;
  cutter.cutter = Cutter::Of(FlatOutline({diameter_mm, flute_length_mm}));
  cutter.shank_diameter_mm = shank_mm;
  cutter.stick_out_mm = cutter.measured_stick_out_mm = stick_out_mm;
  return cutter;
}

// STF-02: round, d 6 mm, L 24 mm, E 600 GPa, 50 N: 0.00603610 mm, 8283.50 N/mm.
TEST(SpringsTest, RoundToolIsThatOfTheTable) {
  const double mm_n = CutterCompliance_mm_n(FlatCutter(6, 16, 6, 40), 600, 16);
  EXPECT_NEAR(50 * mm_n / 0.00603610, 1.0, kRelative);
  EXPECT_NEAR(1 / mm_n / 8283.50, 1.0, kRelative);
}

// STF-03: tip d 3 mm over 10 mm, shank d 6 mm, 40 mm in all, 50 N, E 600 GPa: 0.0344945 mm.
// A core of 3 mm is that of flutes of 3.75 mm.
TEST(SpringsTest, SteppedToolIsThatOfTheTable) {
  const double mm_n = CutterCompliance_mm_n(FlatCutter(3 / kCoreShare, 10, 6, 40), 600, 0);
  EXPECT_NEAR(50 * mm_n / 0.0344945, 1.0, 3e-6);   // its last printed digit is 1.5e-6 of it
}

// STF-01: L 3000 mm, 25,000 N, I 1e8 mm4, E 2.1e5 N/mm2: 10.714 mm.
TEST(SpringsTest, CantileverIsThatOfTheTextbook) {
  const double diameter_mm = std::pow(64 * 1e8 / 3.14159265358979323846, 0.25);
  const double mm_n = CutterCompliance_mm_n(FlatCutter(diameter_mm, 1000, diameter_mm, 4000), 210, 1000);
  EXPECT_NEAR(25000 * mm_n, 10.714, 0.0005);
}

// STF-04: twice the overhang, eight times the deflection.
TEST(SpringsTest, TwiceTheOverhangGivesEightTimes) {
  const double once = CutterCompliance_mm_n(FlatCutter(6, 10, 6, 30), 600, 10);
  const double twice = CutterCompliance_mm_n(FlatCutter(6, 10, 6, 50), 600, 10);
  EXPECT_NEAR(twice / once, 8.0, 1e-9);
}

// Stiffer stuff, a thicker shank, a shorter stick-out and a force nearer to the nut: never more.
TEST(SpringsTest, StifferCutterNeverGivesMore) {
  const double base = CutterCompliance_mm_n(FlatCutter(6, 20, 6, 40), 200, 1);
  EXPECT_LT(CutterCompliance_mm_n(FlatCutter(6, 20, 6, 40), 600, 1), base);
  EXPECT_LT(CutterCompliance_mm_n(FlatCutter(6, 20, 8, 40), 200, 1), base);
  EXPECT_LT(CutterCompliance_mm_n(FlatCutter(6, 20, 6, 35), 200, 1), base);
  EXPECT_LT(CutterCompliance_mm_n(FlatCutter(6, 20, 6, 40), 200, 5), base);
  EXPECT_LT(CutterStretch_mm_n(FlatCutter(6, 20, 6, 40), 200), 0.01 * base);
}

// A ball's tip is thin but short: the integral stays finite and near that of its cylinder.
TEST(SpringsTest, BallTipHardlySoftensItsCylinder) {
  CellCutter ball = FlatCutter(6, 20, 6, 40);
  const double flat = CutterCompliance_mm_n(ball, 600, 0);
  ball.cutter = Cutter::Ball(6, 20);
  const double round = CutterCompliance_mm_n(ball, 600, 0);
  EXPECT_GT(round, flat);
  EXPECT_LT(round, 1.05 * flat);
}

TEST(SpringsTest, ArmIsKnownOnlyWhenEveryJointIs) {
  Cell cell;
  EXPECT_FALSE(ArmStiffnessOf(cell).has_value());
  cell.drives = {{1e6, 1e-4}, {2e6, std::nullopt}};
  EXPECT_THAT(*ArmStiffnessOf(cell), testing::ElementsAre(1e6, 2e6));
  EXPECT_FALSE(LostMotionOf(cell).has_value());
  cell.drives[1] = {std::nullopt, 2e-4};
  EXPECT_FALSE(ArmStiffnessOf(cell).has_value());
  EXPECT_THAT(*LostMotionOf(cell), testing::ElementsAre(1e-4, 2e-4));
}

}  // namespace
}  // namespace aircut::sim
