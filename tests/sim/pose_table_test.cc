#include "sim/pose_table.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/path_file.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::MoveKind;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr char kHeader[] = "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool,move\n";

PathProgram ReadProgram(const std::string& text, const PathDefaults& defaults = {}) {
  const test::TempFolder folder;
  PathRules rules;
  rules.defaults = defaults;
  return ReadPathProgram("pose_table", folder.Write("path.csv", text), rules);
}

std::vector<PoseRow> Read(const std::string& text, const PathDefaults& defaults = {}) {
  return ReadProgram(text, defaults).rows;
}

void ExpectFault(const std::string& text, const std::string& line, const std::string& words) {
  EXPECT_THAT([&] { Read(text); },
              ThrowsMessage<InputError>(AllOf(HasSubstr("path.csv:" + line + ":"), HasSubstr(words))))
      << text;
}

// Oracle: the definition of the columns and of mm/min.
TEST(PoseTableTest, RowsCarryTheirLineValuesAndUnits) {
  const auto rows = Read("# by hand\n" + std::string(kHeader) +
                         "1,2.5,-3e1,0,0,1,600,12000,1,rapid\n\n# pause\n 4 , +5,6,0.6,0,0.8,1200,-9000,12,cut\n");
  ASSERT_EQ(rows.size(), 2u);
  EXPECT_EQ(rows[0].line, 3);
  EXPECT_EQ(rows[0].p_SQ, Eigen::Vector3d(1, 2.5, -30));
  EXPECT_EQ(rows[0].move, MoveKind::kRapid);
  EXPECT_DOUBLE_EQ(rows[0].feed_mm_s, 10.0);
  EXPECT_EQ(rows[1].line, 6);
  EXPECT_EQ(rows[1].p_SQ, Eigen::Vector3d(4, 5, 6));
  EXPECT_NEAR((rows[1].axis_S - Eigen::Vector3d(0.6, 0, 0.8)).norm(), 0, 1e-15);
  EXPECT_DOUBLE_EQ(rows[1].feed_mm_s, 20.0);
  EXPECT_EQ(rows[1].spindle_rpm, -9000.0);
  EXPECT_EQ(rows[1].tool, 12);
  EXPECT_FALSE(rows[1].R_ST.has_value());
}

// Oracle: one inch is 25.4 mm; line ends of both kinds and a byte-order mark
// change nothing.
TEST(PoseTableTest, InchesAndCarriageReturnsAreRead) {
  const auto rows =
      Read("\xef\xbb\xbfx_in,y_in,z_in,i,j,k,feed_in_min,spindle_rpm,tool\r\n1,0,-2,0,0,1,60,100,1\r\n");
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_NEAR((rows[0].p_SQ - Eigen::Vector3d(25.4, 0, -50.8)).norm(), 0, 1e-12);
  EXPECT_NEAR(rows[0].feed_mm_s, 25.4, 1e-12);
}

// Oracle: a quarter turn about x takes z to -y (right-hand rule).
TEST(PoseTableTest, QuaternionGivesOrientationAndAxis) {
  const auto rows = Read("x_mm,y_mm,z_mm,qw,qx,qy,qz,feed_mm_min,spindle_rpm,tool\n"
                         "0,0,0,0.70710678118654757,0.70710678118654757,0,0,60,100,1\n");
  ASSERT_TRUE(rows[0].R_ST.has_value());
  EXPECT_NEAR((rows[0].axis_S - Eigen::Vector3d(0, -1, 0)).norm(), 0, 1e-12);
  EXPECT_NEAR((rows[0].R_ST->col(0) - Eigen::Vector3d::UnitX()).norm(), 0, 1e-12);
}

TEST(PoseTableTest, DefaultsFillMissingColumnsAndColumnsWin) {
  PathDefaults defaults;
  defaults.feed_mm_s = 7.0;
  defaults.spindle_rpm = 5000.0;
  defaults.tool = 3;
  const auto filled = Read("x_mm,y_mm,z_mm,i,j,k\n0,0,0,0,0,1\n", defaults);
  EXPECT_EQ(filled[0].feed_mm_s, 7.0);
  EXPECT_EQ(filled[0].spindle_rpm, 5000.0);
  EXPECT_EQ(filled[0].tool, 3);
  EXPECT_EQ(filled[0].move, MoveKind::kCut);
  const auto own = Read(std::string(kHeader) + "0,0,0,0,0,1,60,100,1,cut\n", defaults);
  EXPECT_EQ(own[0].feed_mm_s, 1.0);
  EXPECT_EQ(own[0].tool, 1);
}

TEST(PoseTableTest, MissingFeedSpeedOrCutterIsAnErrorAtItsLine) {
  ExpectFault("x_mm,y_mm,z_mm,i,j,k,spindle_rpm,tool\n0,0,0,0,0,1,1,1\n", "2", "feed");
  ExpectFault("x_mm,y_mm,z_mm,i,j,k,feed_mm_min,tool\n0,0,0,0,0,1,1,1\n", "2", "spindle speed is missing");
  ExpectFault("x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm\n0,0,0,0,0,1,1,1\n", "2", "cutter is missing");
}

TEST(PoseTableTest, HeaderFaultsAreNamed) {
  ExpectFault("x_mm,y_mm,z_mn,i,j,k\n", "1", "column z_mn is not known, did you mean z_mm?");
  ExpectFault("x_mm,y_mm,i,j,k\n0,0,0,0,1\n", "1", "column z_mm");
  ExpectFault("x_mm,y_mm,z_in,i,j,k\n0,0,0,0,0,1\n", "1", "different units");
  ExpectFault("x_mm,x_in,y_mm,z_mm,i,j,k\n", "1", "given twice");
  ExpectFault("x_mm,y_mm,z_mm,i,j,k,qw,qx,qy,qz\n", "1", "both given");
  ExpectFault("x_mm,y_mm,z_mm,i,j\n", "1", "orientation is missing");
  ExpectFault("x_mm,y_mm,z_mm\n", "1", "orientation is missing");
  ExpectFault("", "0", "empty");
  ExpectFault("# nothing\n", "1", "empty");
}

TEST(PoseTableTest, EmptyPathIsAnError) { ExpectFault(kHeader, "1", "path is empty"); }

TEST(PoseTableTest, TooFewAndTooManyColumnsNameLineAndCounts) {
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,60,100,1,cut\n0,0,0,0,0,1,60,100,1\n", "3", "9 columns, must have 10");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,60,100,1,cut,5\n", "2", "11 columns, must have 10");
}

TEST(PoseTableTest, ValuesThatAreNoFiniteNumbersAreNamed) {
  for (const char* bad : {"nan", "inf", "-inf", "1e999", "1.5mm", "", "0x10", "1,5", "--1"}) {
    EXPECT_THROW(Read(std::string(kHeader) + bad + ",0,0,0,0,1,60,100,1,cut\n"), InputError) << bad;
  }
  ExpectFault(std::string(kHeader) + "0,nan,0,0,0,1,60,100,1,cut\n", "2", "y = nan must be a finite number");
  ExpectFault(std::string(kHeader) + "0,0,0,0,nan,1,60,100,1,cut\n", "2", "j = nan");
  ExpectFault(std::string(kHeader) + "0,0,2e6,0,0,1,60,100,1,cut\n", "2", "z = 2e6 must lie within");
}

// The axis may be off by 1e-6 in length: just inside is read and normalised,
// just outside and zero are refused.
TEST(PoseTableTest, AxisLengthIsHeldToOneMillionth) {
  const auto rows = Read(std::string(kHeader) + "0,0,0,0,0,1.0000009,60,100,1,cut\n");
  EXPECT_NEAR(rows[0].axis_S.norm(), 1.0, 1e-15);
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1.0000011,60,100,1,cut\n", "2", "normalise");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,0.9999989,60,100,1,cut\n", "2", "normalise");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,0,60,100,1,cut\n", "2", "has length 0");
  ExpectFault("x_mm,y_mm,z_mm,qw,qx,qy,qz\n0,0,0,1,0,0,0.1\n", "2", "quaternion");
}

TEST(PoseTableTest, CutNeedsAFeedAndARapidDoesNot) {
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,0,100,1,cut\n", "2", "feed = 0 must be > 0");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,-5,100,1,cut\n", "2", "feed = -5");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,,100,1,cut\n", "2", "(empty)");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,-5,100,1,rapid\n", "2", "feed = -5");
  EXPECT_EQ(Read(std::string(kHeader) + "0,0,0,0,0,1,,100,1,rapid\n")[0].feed_mm_s, 0.0);
}

TEST(PoseTableTest, MoveAndToolMustBeKnownWords) {
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,60,100,1,Cut\n", "2", "move = Cut must be cut or rapid");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,60,100,1.5,cut\n", "2", "tool = 1.5");
  ExpectFault(std::string(kHeader) + "0,0,0,0,0,1,60,100,-1,cut\n", "2", "tool = -1");
}

// Oracle: what was written. More rows than one buffer holds, so that rows lie
// across its ends.
TEST(PoseTableTest, RowsAcrossBufferEndsAreReadWhole) {
  std::string text = "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool\n";
  constexpr int kRows = 60'000;
  for (int i = 0; i < kRows; ++i) {
    text += std::to_string(i) + ".125," + std::to_string(-i) + ",7,0,0,1,600,12000,1\n";
  }
  const auto rows = Read(text);
  ASSERT_EQ(rows.size(), static_cast<std::size_t>(kRows));
  for (int i = 0; i < kRows; ++i) {
    const PoseRow& row = rows[static_cast<std::size_t>(i)];
    ASSERT_EQ(row.line, i + 2);
    ASSERT_EQ(row.p_SQ, Eigen::Vector3d(i + 0.125, -i, 7));
  }
}

// Oracle: the definition: cutter and speed hold on the way to a row, so their
// changes stand before it; the dwell stands after its row.
TEST(PoseTableTest, ChangesAndDwellsAreToldAsEvents) {
  const auto program = ReadProgram("x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool,move,dwell_s\n"
                                   "0,0,9,0,0,1,,0,1,rapid,\n"
                                   "0,0,0,0,0,1,60,9000,1,cut,1.5\n"
                                   "1,0,0,0,0,1,60,9000,1,cut,0\n"
                                   "2,0,0,0,0,1,60,-9000,2,cut,0.25\n");
  struct Expected {
    PathEventKind kind;
    int line, before;
    double value;
  };
  const Expected expected[] = {{PathEventKind::kTool, 2, 0, 1},     {PathEventKind::kSpindle, 2, 0, 0},
                               {PathEventKind::kSpindle, 3, 1, 9000}, {PathEventKind::kDwell, 3, 2, 1.5},
                               {PathEventKind::kTool, 5, 3, 2},     {PathEventKind::kSpindle, 5, 3, -9000},
                               {PathEventKind::kDwell, 5, 4, 0.25}};
  ASSERT_EQ(program.events.size(), std::size(expected));
  for (std::size_t i = 0; i < std::size(expected); ++i) {
    EXPECT_EQ(program.events[i].kind, expected[i].kind) << i;
    EXPECT_EQ(program.events[i].line, expected[i].line) << i;
    EXPECT_EQ(program.events[i].before, expected[i].before) << i;
    EXPECT_EQ(program.events[i].value, expected[i].value) << i;
  }
  const std::string header = "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool,dwell_s\n";
  ExpectFault(header + "0,0,0,0,0,1,60,1,1,-0.1\n", "2", "dwell_s = -0.1 must be >= 0 s");
  ExpectFault(header + "0,0,0,0,0,1,60,1,1,90000\n", "2", "dwell_s = 90000 must lie within");
  ExpectFault(header + "0,0,0,0,0,1,60,1,1,nan\n", "2", "dwell_s = nan");
}

TEST(PoseTableTest, ValuesOfTheJobAreToldOnce) {
  PathDefaults defaults;
  defaults.feed_mm_s = 7.0;
  defaults.spindle_rpm = 5000.0;
  defaults.tool = 3;
  const auto events = ReadProgram("x_mm,y_mm,z_mm,i,j,k\n0,0,0,0,0,1\n1,0,0,0,0,1\n", defaults).events;
  ASSERT_EQ(events.size(), 2u);
  EXPECT_EQ(events[0].kind, PathEventKind::kTool);
  EXPECT_EQ(events[0].value, 3);
  EXPECT_EQ(events[1].kind, PathEventKind::kSpindle);
  EXPECT_EQ(events[1].value, 5000);
}

TEST(PoseTableTest, DecimalCommasAndSemicolonsAreNamed) {
  ExpectFault("x_mm;y_mm;z_mm;i;j;k\n0,5;1;2;0;0;1\n", "1", "parted by semicolons");
  ExpectFault(std::string(kHeader) + "0,5;1,5;2,5;0;0;1,0;60;100;1,cut\n", "2", "5;1 holds a semicolon");
  ExpectFault(std::string(kHeader) + "0,5,1,5,2,5,0,0,1,60,100,1,cut\n", "2", "1.5 and not 1,5");
}

TEST(PoseTableTest, ColumnNamedTwiceIsRefused) {
  ExpectFault("x_mm,x_mm,z_mm,i,j,k\n", "1", "column x_mm is given twice");
}

TEST(PoseTableTest, TextInSixteenBitUnitsIsRefused) {
  ExpectFault(std::string("\xff\xfex\0_\0", 6), "1", "UTF-16, must be UTF-8");
  ExpectFault(std::string("\xfe\xff\0x\0_", 6), "1", "UTF-16, must be UTF-8");
  ExpectFault(std::string("x\0_\0m\0", 6), "1", "zero byte");
}

TEST(PoseTableTest, LineWithoutEndIsRefusedBeforeItFillsMemory) {
  ExpectFault(std::string(kHeader) + std::string(3'000'000, '1'), "2", "longer than 65536 bytes");
}

}  // namespace
}  // namespace aircut::sim
