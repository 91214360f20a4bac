#include "verify/cell_sheet.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "tests/verify/sheet_cell.h"

namespace aircut::verify {
namespace {

using support::BareCell;
using support::FreeJoints;
using support::kDegree;
using support::SheetArm;
using testing::HasSubstr;
using testing::Not;

// The one line that starts with `label`, without it.
std::string RowOf(const std::string& sheet, const std::string& label) {
  const std::size_t at = sheet.find("\n  " + label + " ");
  if (at == std::string::npos) return "no row " + label;
  const std::size_t from = sheet.find_first_not_of(' ', at + 3 + label.size());
  return sheet.substr(from, sheet.find('\n', from) - from);
}

// Oracle: sums done by hand. In line with the flange: 220 + 40 = 260, straight.
TEST(CellSheetTest, StackIsAddedUpFromFlangeToTip) {
  const std::string sheet = CellSheet(BareCell());
  EXPECT_THAT(sheet, HasSubstr("Cutter 1: ball, 6 mm across, 2 flutes, right-hand\n"));
  EXPECT_EQ(RowOf(sheet, "stick-out, nose to tip"), "40 mm: flutes 22 mm + shank 18 mm, 6 mm thick");
  EXPECT_EQ(RowOf(sheet, "holder"), "28 x 10 + 40 x 35 mm = 45 mm above the nose, 85 mm above the tip");
  EXPECT_EQ(RowOf(sheet, "sum along the spindle"), "flange to nose 220 mm + nose to tip 40 mm = 260 mm");
  EXPECT_EQ(RowOf(sheet, "flange to tip"),
            "260 mm in a straight line, the spindle axis goes through the flange centre");
}

// Oracle: Pythagoras, 5-12-13. The spindle stands square to the flange; its nose
// is 80 mm ahead along the axis and 50 mm beside: 80 + 40 = 120 and 50 give 130.
TEST(CellSheetTest, SpindleSquareToTheFlangeAddsAlongItsOwnAxis) {
  sim::LoadedCellFile loaded = BareCell();
  loaded.cell.X_FH = kinematics::MakePose(
      Eigen::AngleAxisd(-90 * kDegree, Eigen::Vector3d::UnitY()).toRotationMatrix(), {80, 0, 50});
  const std::string sheet = CellSheet(loaded);
  EXPECT_EQ(RowOf(sheet, "sum along the spindle"), "flange to nose 80 mm + nose to tip 40 mm = 120 mm");
  EXPECT_EQ(RowOf(sheet, "flange to tip"),
            "130 mm in a straight line, the spindle axis passes the flange centre at 50 mm");
  EXPECT_EQ(RowOf(sheet, "nose H in flange F"), "(80, 0, 50) mm, turned 90° about (0, -1, 0)");
}

// Oracle: what the panel shows and how it belongs to the model, by definition.
TEST(CellSheetTest, JointsAreToldAsThePanelShowsThem) {
  auto joints = FreeJoints();
  joints[1].sign = -1;
  joints[2].lower_rad = -130 * kDegree;
  joints[2].upper_rad = 150 * kDegree;
  joints[2].zero_rad = 90 * kDegree;
  joints[2].follows = kinematics::JointFollow{1, -1.0};
  joints[2].sum_limit = kinematics::SumLimit{1, 1.0, -60 * kDegree, 120 * kDegree};
  sim::LoadedCellFile loaded = BareCell();
  loaded.cell.arm = SheetArm(joints);
  loaded.cell.drives[2].lost_motion_rad = 0.8 / 60 * kDegree;
  const std::string sheet = CellSheet(loaded);
  EXPECT_EQ(RowOf(sheet, "joint 1"), "-180° to 180°, 90°/s, 200°/s², counts as the model turns");
  EXPECT_EQ(RowOf(sheet, "joint 2"), "-180° to 180°, 90°/s, 200°/s², counts against the model");
  EXPECT_EQ(RowOf(sheet, "joint 3"),
            "-130° to 150°, 90°/s, 200°/s², counts as the model turns, panel 0 is model 90°, lost motion 0.8 arcmin");
  EXPECT_THAT(sheet, HasSubstr("joint 3 follows joint 2 by -1"));
  EXPECT_THAT(sheet, HasSubstr("joint 3 plus joint 2 stays within -60° to 120°"));
}

// Silence is told in capitals, "none" is an answer.
TEST(CellSheetTest, SilenceAboutBodiesIsToldApartFromNone) {
  sim::LoadedCellFile loaded = BareCell();
  std::string sheet = CellSheet(loaded);
  for (const char* label : {"fixture", "clamps", "obstacles", "hose", "dust hood", "floor", "arm"}) {
    EXPECT_EQ(RowOf(sheet, label), "NOT SAID") << label;
  }
  loaded.cell.hose = sim::Declared::kNone;
  loaded.cell.floor_z_mm = -20;
  loaded.cell.obstacles_W = {{"fence", {}}, {"post", {}}};
  sheet = CellSheet(loaded);
  EXPECT_EQ(RowOf(sheet, "hose"), "none");
  EXPECT_EQ(RowOf(sheet, "floor"), "at z = -20 mm");
  EXPECT_EQ(RowOf(sheet, "obstacles"), "fence and post");
}

TEST(CellSheetTest, CutterSpeedLimitIsHeldAgainstTheSpindle) {
  sim::LoadedCellFile loaded = BareCell();
  EXPECT_THAT(RowOf(CellSheet(loaded), "highest speed"), HasSubstr("not said"));
  loaded.cell.cutters.at(1).rpm_limit = 24000;
  EXPECT_EQ(RowOf(CellSheet(loaded), "highest speed"), "24,000 rpm: the spindle goes to 24,000 rpm, within it");
  loaded.cell.cutters.at(1).rpm_limit = 18000;
  EXPECT_THAT(RowOf(CellSheet(loaded), "highest speed"), HasSubstr("beyond it"));
}

TEST(CellSheetTest, MeasuredCutterIsComparedWithTheTypedOne) {
  sim::LoadedCellFile loaded = BareCell();
  EXPECT_EQ(RowOf(CellSheet(loaded), "measured"), "no");
  sim::CellCutter& cutter = loaded.cell.cutters.at(1);
  cutter.measured = true;
  cutter.measured_stick_out_mm = 39.98;
  cutter.measured_diameter_mm = 5.99;
  cutter.measured_by = "setter";
  EXPECT_EQ(RowOf(CellSheet(loaded), "measured"),
            "stick-out 39.98 mm, 0.02 mm shorter than typed; diameter 5.99 mm; by setter");
}

// What is assumed, and the files: nothing is hidden.
TEST(CellSheetTest, AssumedValuesAndFilesAreListed) {
  sim::LoadedCellFile loaded = BareCell();
  loaded.cell.assumed = {{"arm.joints[2].acceleration", 100, 100, 300, "deg/s²", "handbook"}};
  loaded.inputs = {{"cell", "bench.cell.yaml", "0123456789abcdef", 1234}};
  const std::string sheet = CellSheet(loaded);
  EXPECT_THAT(sheet, HasSubstr("arm.joints[2].acceleration: 100 deg/s², the bad end of 100 to 300 deg/s² (handbook)"));
  EXPECT_EQ(RowOf(sheet, "cell"), "bench.cell.yaml, 1,234 bytes, SHA-256 0123456789ab");
  EXPECT_THAT(sheet, Not(HasSubstr("nothing\n")));
}

// A second cutter of another shape has its own section.
TEST(CellSheetTest, EveryCutterIsTold) {
  sim::LoadedCellFile loaded = BareCell();
  sim::CellCutter bull = loaded.cell.cutters.at(1);
  bull.number = 2;
  bull.cutter = sim::Cutter::Of(sim::BullNoseOutline({12, 25}, 2));
  loaded.cell.cutters.emplace(2, bull);
  EXPECT_THAT(CellSheet(loaded), HasSubstr("Cutter 2: bull nose, 12 mm across"));
}

// Oracle: the cone is drawn from the angle and tip that must be read back.
TEST(CellSheetTest, ConesAreToldByAngleAndTip) {
  sim::LoadedCellFile loaded = BareCell();
  const auto told = [&](const sim::CutterOutline& outline) {
    loaded.cell.cutters.at(1).cutter = sim::Cutter::Of(outline);
    return CellSheet(loaded);
  };
  EXPECT_THAT(told(sim::RoundTipConeOutline({12, 22}, 60 * kDegree, 0.1)), HasSubstr("v of 60°, tip radius 0.1 mm, 12 mm"));
  EXPECT_THAT(told(sim::RoundTipConeOutline({12, 22}, 60 * kDegree, 0)), HasSubstr("v of 60°, sharp, 12 mm"));
  EXPECT_THAT(told(sim::FlatTipConeOutline({12, 22}, 90 * kDegree, 0.2)), HasSubstr("v of 90°, tip flat 0.2 mm, 12 mm"));
}

// A cell without an arm still gives a sheet: it never ends the program.
TEST(CellSheetTest, EmptyCellGivesASheet) {
  EXPECT_THAT(CellSheet(sim::LoadedCellFile{}), HasSubstr("no arm"));
}

}  // namespace
}  // namespace aircut::verify
