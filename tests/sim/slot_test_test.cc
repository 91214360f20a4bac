#include "sim/slot_test.h"

#include <cmath>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/outline_shapes.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using testing::HasSubstr;

CellCutter FlatCutter() {
  CellCutter cutter;
  cutter.cutter = Cutter::Of(FlatOutline({8, 20}));
  cutter.flutes = 2;
  return cutter;
}

constexpr double kCutting[] = {40, 15, 6}, kEdge[] = {3, 2, 0.4};

// Mean forces on the piece in a full slot by straight teeth, in closed form (Altintas,
// Manufacturing Automation, from memory): independent of the sums that the fit uses.
SlotRow ClosedForm(double depth_mm, double chip_mm) {
  const double na = 2 * depth_mm, pi = kinematics::kPi;
  SlotRow row;
  row.depth_mm = depth_mm;
  row.rpm = 12000;
  row.feed_mm_s = chip_mm * 2 * 200;
  row.ahead_n = na * (kCutting[1] * chip_mm / 4 + kEdge[1] / pi);
  row.left_n = -na * (kCutting[0] * chip_mm / 4 + kEdge[0] / pi);
  row.up_n = na * (kCutting[2] * chip_mm / pi + kEdge[2] / 2);
  return row;
}

TEST(SlotTestFit, FindsTheCoefficientsOfTheClosedForm) {
  const SlotFit fit = FitSlotTest("slots.csv", {ClosedForm(2, 0.05), ClosedForm(2, 0.1), ClosedForm(1, 0.15)}, FlatCutter());
  constexpr double kSectors = 0.005;   // relative: sectors of 11.25 degrees
  EXPECT_NEAR(*fit.cutting_n_mm2.tangential, 40, 40 * kSectors);
  EXPECT_NEAR(*fit.cutting_n_mm2.radial, 15, 15 * kSectors);
  EXPECT_NEAR(*fit.cutting_n_mm2.axial, 6, 6 * kSectors);
  EXPECT_NEAR(*fit.edge_n_mm.tangential, 3, 3 * kSectors);
  EXPECT_NEAR(*fit.edge_n_mm.radial, 2, 2 * kSectors);
  EXPECT_NEAR(*fit.edge_n_mm.axial, 0.4, 0.4 * kSectors);
  EXPECT_DOUBLE_EQ(fit.band, 0.2);   // domain notes B4: what one slot test leaves open
}

// Noise of a tenth of the force widens the band; the coefficients stay within it.
TEST(SlotTestFit, NoiseWidensTheBand) {
  std::mt19937_64 rng(11);
  std::normal_distribution<double> noise(0.0, 1.5);
  std::vector<SlotRow> rows;
  for (int i = 0; i < 40; ++i) {
    SlotRow row = ClosedForm(2, 0.03 + 0.004 * i);
    row.ahead_n += noise(rng), row.left_n += noise(rng), *row.up_n += noise(rng);
    rows.push_back(row);
  }
  const SlotFit fit = FitSlotTest("slots.csv", rows, FlatCutter());
  EXPECT_NEAR(fit.residual_n, 1.5, 0.3);
  EXPECT_GT(fit.band, 0.2);
  EXPECT_NEAR(*fit.cutting_n_mm2.tangential, 40, 40 * fit.band);
}

TEST(SlotTestFit, WithoutAxialForceItsPartStaysOpen) {
  std::vector<SlotRow> rows = {ClosedForm(2, 0.05), ClosedForm(2, 0.1), ClosedForm(2, 0.15)};
  for (SlotRow& row : rows) row.up_n.reset();
  const SlotFit fit = FitSlotTest("slots.csv", rows, FlatCutter());
  EXPECT_FALSE(fit.cutting_n_mm2.axial.has_value());
  EXPECT_NEAR(*fit.cutting_n_mm2.tangential, 40, 0.2);
}

std::string Refusal(const std::vector<SlotRow>& rows) {
  try {
    FitSlotTest("slots.csv", rows, FlatCutter());
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

TEST(SlotTestFit, RefusesWhatTellsNothing) {
  EXPECT_THAT(Refusal({ClosedForm(2, 0.05), ClosedForm(2, 0.1)}), HasSubstr("three or more"));
  EXPECT_THAT(Refusal({ClosedForm(1, 0.1), ClosedForm(2, 0.1), ClosedForm(3, 0.1)}), HasSubstr("second feed"));
  std::vector<SlotRow> turned = {ClosedForm(2, 0.05), ClosedForm(2, 0.1), ClosedForm(2, 0.15)};
  for (SlotRow& row : turned) row.left_n = -row.left_n;
  EXPECT_THAT(Refusal(turned), HasSubstr("must not be below 0"));
}

TEST(SlotTable, ReadsUnitsAndRefusesADepthBeyondTheFlutes) {
  const test::TempFolder folder;
  const auto file = folder.Write("slots.csv", "depth_mm,feed_mm_min,spindle_rpm,fx_n,fy_n\n2,1200,12000,3.3,-5.8\n");
  const std::vector<SlotRow> rows = ReadSlotTable(file, 20);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_DOUBLE_EQ(rows[0].feed_mm_s, 20);
  EXPECT_DOUBLE_EQ(rows[0].left_n, -5.8);
  EXPECT_FALSE(rows[0].up_n.has_value());
  EXPECT_THROW(ReadSlotTable(file, 1.5), InputError);
}

}  // namespace
}  // namespace aircut::sim
