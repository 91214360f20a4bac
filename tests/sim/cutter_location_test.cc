#include "sim/cutter_location.h"

#include <cmath>
#include <random>
#include <set>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/path_file.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::MoveKind;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;
using testing::ThrowsMessage;

PathProgram Read(const std::string& text, const PathRules& rules = {}) {
  const test::TempFolder folder;
  return ReadPathProgram("cutter_location", folder.Write("path.cl", text), rules);
}

void ExpectFault(const std::string& text, const std::string& line, const std::string& words,
                 const PathRules& rules = {}) {
  EXPECT_THAT([&] { Read(text, rules); },
              ThrowsMessage<InputError>(
                  AllOf(HasSubstr("path.cl:" + line + (line.empty() ? "" : ":")), HasSubstr(words))))
      << text.substr(0, 400);
}

// Four lines: what a path needs before its first cut.
constexpr char kStart[] = "UNITS/MM\nLOADTL/1\nSPINDL/12000,RPM,CLW\nFEDRAT/600,MMPM\n";

std::string Path(const std::string& middle) { return kStart + middle + "FINI\n"; }

// Oracle for all literal files: the meaning of the statements in domain-notes D,
// ISO 4343 / 3592 family, worked out by hand.
TEST(CutterLocationTest, WholeProgramIsReadInOrder) {
  const PathProgram program = Read(
      "PARTNO ring, port transom / 3 $ not continued\n"       // 1
      "$$ written by hand\n"                                   // 2
      "UNITS/MM\n"                                             // 3
      "LOADTL/3,LENGTH,62.5\n"                                 // 4
      "CUTTER/6,3\n"                                           // 5
      "FROM/0,0,50\n"                                          // 6
      "SPINDL/18000,RPM,CLW\n"                                 // 7
      "RAPID\n"                                                // 8
      "GOTO/10,0,5\n"                                          // 9
      "FEDRAT/1200,MMPM\n"                                     // 10
      "GOTO/10,0,-1\n"                                         // 11
      "GOTO/20,0,-1\n"                                         // 12
      "DELAY/0.5\n"                                            // 13
      "SPINDL/OFF\n"                                           // 14
      "FINI\n");                                               // 15
  ASSERT_EQ(program.rows.size(), 4u);
  const int lines[] = {6, 9, 11, 12};
  const Vector3d points[] = {{0, 0, 50}, {10, 0, 5}, {10, 0, -1}, {20, 0, -1}};
  for (std::size_t i = 0; i < 4; ++i) {
    const PoseRow& row = program.rows[i];
    EXPECT_EQ(row.line, lines[i]);
    EXPECT_EQ(row.p_SQ, points[i]);
    EXPECT_EQ(row.axis_S, Vector3d(0, 0, 1));
    EXPECT_EQ(row.move, i < 2 ? MoveKind::kRapid : MoveKind::kCut);
    EXPECT_EQ(row.spindle_rpm, i < 1 ? 0.0 : 18000.0);
    EXPECT_EQ(row.feed_mm_s, i < 2 ? 0.0 : 20.0);
    EXPECT_EQ(row.tool, 3);
    EXPECT_FALSE(row.R_ST || row.duration_s || row.length_offset_mm);
  }
  struct Expected {
    PathEventKind kind;
    int line, before;
    double value;
  };
  const Expected events[] = {{PathEventKind::kTool, 4, 0, 3},       {PathEventKind::kToolLength, 4, 0, 62.5},
                             {PathEventKind::kCutterShape, 5, 0, 0}, {PathEventKind::kSpindle, 7, 1, 18000},
                             {PathEventKind::kDwell, 13, 4, 0.5},    {PathEventKind::kSpindle, 14, 4, 0},
                             {PathEventKind::kEnd, 15, 4, 0}};
  ASSERT_EQ(program.events.size(), std::size(events));
  for (std::size_t i = 0; i < std::size(events); ++i) {
    EXPECT_EQ(program.events[i].kind, events[i].kind) << i;
    EXPECT_EQ(program.events[i].line, events[i].line) << i;
    EXPECT_EQ(program.events[i].before, events[i].before) << i;
    EXPECT_EQ(program.events[i].value, events[i].value) << i;
  }
}

TEST(CutterLocationTest, StatementsContinueOverLinesAndKeepTheirFirst) {
  const auto rows = Read(Path("GOTO/1,$\n  2 ,  $  $$ more follows\n\n$$ between\n3\ngoto/4,5,6 $$ done\nGoTo / +7 , 8. , .9e1\n")).rows;
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_EQ(rows[0].line, 5);
  EXPECT_EQ(rows[0].p_SQ, Vector3d(1, 2, 3));
  EXPECT_EQ(rows[1].line, 10);
  EXPECT_EQ(rows[1].p_SQ, Vector3d(4, 5, 6));
  EXPECT_EQ(rows[2].p_SQ, Vector3d(7, 8, 9));
}

TEST(CutterLocationTest, ContinuationFaultsAreNamed) {
  ExpectFault(std::string(kStart) + "GOTO/1,2,$\n", "5", "cut off");
  ExpectFault(std::string(kStart) + "GOTO/1,2,$", "5", "cut off");
  ExpectFault(Path("GOTO/1,2,$ 00010\n3\n"), "5", "a single $");
  ExpectFault(Path("GOTO/1,2,3$\n4\n"), "5", "argument 3 = 3 4");
  ExpectFault(Path("RAPID $\nGOTO/1,2,3\n"), "5", "one statement a line");
  // The text of the second line is no comment inside a statement.
  ExpectFault(Path("GOTO/1,2,$\nREMARK 3\n"), "5", "argument 3 = REMARK 3");
  std::string endless = kStart;
  for (int i = 0; i < 20'000; ++i) endless += "GOTO/1,2,3,$\n";
  ExpectFault(endless, "5", "longer than 65536 bytes");
}

// A text statement swallows no statement, whatever it ends with.
TEST(CutterLocationTest, FreeTextEndsWithItsLine) {
  const auto rows = Read(Path("REMARK see below $\nGOTO/1,2,3\nPPRINT/GOTO/9,9,9\nPARTNO\nremark $$\n")).rows;
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].line, 6);
}

TEST(CutterLocationTest, InchesAndCarriageReturnsAreRead) {
  const auto program = Read("\xef\xbb\xbfUNITS/INCHES\r\nLOADTL/2,LENGTH,2\r\nSPINDL/CCLW,9000,RPM\r\nFEDRAT/60,IPM\r\n"
                            "CUTTER/0.25\r\nGOTO/1,0,-2\r\nGODLTA/0,0.5,0\r\nUNITS/MM\r\nGOTO/1,0,-2\r\nFINI\r\n");
  ASSERT_EQ(program.rows.size(), 3u);
  EXPECT_EQ(program.rows[0].p_SQ, Vector3d(25.4, 0, -50.8));
  EXPECT_EQ(program.rows[1].p_SQ, Vector3d(25.4, 12.7, -50.8));
  EXPECT_EQ(program.rows[2].p_SQ, Vector3d(1, 0, -2));
  EXPECT_DOUBLE_EQ(program.rows[0].feed_mm_s, 25.4);
  EXPECT_EQ(program.rows[0].spindle_rpm, -9000);
  EXPECT_EQ(program.events[1].value, 50.8);
  EXPECT_DOUBLE_EQ(program.events[3].shape[0], 6.35);
}

TEST(CutterLocationTest, UnitsMustComeBeforeTheFirstLength) {
  const std::string before = "LOADTL/1\nSPINDL/1,RPM,CLW\nFEDRAT/1,MMPM\n";
  for (const char* statement : {"GOTO/1,2,3", "FROM/1,2,3", "CUTTER/6", "LOADTL/1,LENGTH,50"}) {
    ExpectFault(before + statement + "\nUNITS/MM\nFINI\n", "4", "UNITS/MM");
  }
  ExpectFault("UNITS/CM\n", "1", "UNITS/MM or UNITS/INCHES");
  ExpectFault("UNITS\n", "1", "UNITS/MM or UNITS/INCHES");
  ExpectFault("UNITS/MM,INCHES\n", "1", "UNITS/MM or UNITS/INCHES");
}

TEST(CutterLocationTest, AxisHoldsUntilItIsWrittenAgain) {
  const auto rows = Read(Path("GOTO/0,0,9\nMULTAX/ON\nGOTO/1,0,0,0.6,0,0.8\nGOTO/2,0,0\nGODLTA/1,0,0\n"
                              "TLAXIS/0,-1,0\nGOTO/4,0,0\nMULTAX/OFF\nGOTO/5,0,0\nMULTAX\nGOTO/6,0,0,1,0,0\n")).rows;
  ASSERT_EQ(rows.size(), 7u);
  EXPECT_EQ(rows[0].axis_S, Vector3d(0, 0, 1));
  for (const std::size_t i : {1u, 2u, 3u}) EXPECT_NEAR((rows[i].axis_S - Vector3d(0.6, 0, 0.8)).norm(), 0, 1e-15);
  EXPECT_EQ(rows[3].p_SQ, Vector3d(3, 0, 0));
  EXPECT_EQ(rows[4].axis_S, Vector3d(0, -1, 0));
  EXPECT_EQ(rows[5].axis_S, Vector3d(0, -1, 0));
  EXPECT_EQ(rows[6].axis_S, Vector3d(1, 0, 0));
}

PathRules ToolXRules() {
  PathRules rules;
  rules.defaults.tool = 1;
  rules.second_vector = SecondVector::kToolX;
  return rules;
}

// Oracle: by hand. The second vector is the tool's x; it holds with three values
// and ends with an axis that comes alone.
TEST(CutterLocationTest, NineValuesGiveTheWholeOrientation) {
  const auto program = Read(
      "UNITS/MM\nMULTAX\nRAPID\nGOTO/1,2,3,0,0.6,0.8,1,0,0\nRAPID\nGOTO/4,5,6\nRAPID\nGOTO/7,8,9,0,0,1\n"
      "RAPID\nGOTO/7,8,9,0,0,1,0,-1,0\nTLAXIS/0,1,0\nRAPID\nGOTO/7,8,9\nFINI\n",
      ToolXRules());
  ASSERT_EQ(program.rows.size(), 5u);
  Eigen::Matrix3d leaning, spun;
  leaning << 1, 0, 0, 0, 0.8, 0.6, 0, -0.6, 0.8;   // columns x, y = z cross x, z
  spun << 0, 1, 0, -1, 0, 0, 0, 0, 1;
  ASSERT_TRUE(program.rows[0].R_ST && program.rows[1].R_ST && program.rows[3].R_ST);
  EXPECT_LE((*program.rows[0].R_ST - leaning).norm(), 1e-15);
  EXPECT_LE((*program.rows[1].R_ST - leaning).norm(), 1e-15);
  EXPECT_LE((*program.rows[3].R_ST - spun).norm(), 1e-15);
  EXPECT_FALSE(program.rows[2].R_ST || program.rows[4].R_ST);
}

// Other programs put a surface normal there: nine values are not guessed at.
TEST(CutterLocationTest, NineValuesThatTheJobDoesNotExplainAreRefused) {
  ExpectFault(Path("MULTAX\nRAPID\nGOTO/1,2,3,0,0,1,1,0,0\n"), "", "path.second_vector");
  ExpectFault("UNITS/MM\nMULTAX\nRAPID\nGOTO/1,2,3,0,0,1,1,0,0.1\nFINI\n", "", "length 1", ToolXRules());
  ExpectFault("UNITS/MM\nMULTAX\nRAPID\nGOTO/1,2,3,0,0,1,0.8,0,0.6\nFINI\n", "", "square to the axis", ToolXRules());
  ExpectFault("UNITS/MM\nRAPID\nGOTO/1,2,3,0,0,1,1,0,0\nFINI\n", "", "MULTAX/ON", ToolXRules());
  ExpectFault("UNITS/MM\nMULTAX\nRAPID\nGOTO/1,2,3,0,0,1,1,0\nFINI\n", "", "has 8 values", ToolXRules());
}

TEST(CutterLocationTest, WrongCountsOfValuesAreNamed) {
  ExpectFault(Path("GOTO/1,2,3,4\n"), "5", "GOTO has 4 values, must have 3 (x,y,z) or 6");
  ExpectFault(Path("MULTAX/ON\nGOTO/1,2,3,0,1\n"), "6", "GOTO has 5 values");
  ExpectFault(Path("GOTO/1,2\n"), "5", "GOTO has 2 values");
  ExpectFault(Path("GOTO\n"), "5", "GOTO has 0 values");
  ExpectFault(Path("GOTO/\n"), "5", "GOTO has 1 values");
  ExpectFault(Path("GOTO/1,2,3,0,0,1\n"), "5", "MULTAX/ON");
  ExpectFault(Path("MULTAX/ON\nGOTO/1,2,3,0,0,1\nMULTAX/OFF\nGOTO/1,2,3,0,0,1\n"), "8", "MULTAX/ON");
  ExpectFault(Path("FROM/1,2\n"), "5", "FROM has 2 values");
  ExpectFault(Path("GOTO/0,0,0\nGODLTA/1\n"), "6", "GODLTA has 1 arguments, must have 3");
  ExpectFault(Path("TLAXIS/0,1\n"), "5", "TLAXIS has 2 arguments");
  // Comma decimals: the count, or an axis that is none, gives them away.
  ExpectFault(Path("GOTO/1,5,2,5\n"), "5", "1.5 and not 1,5");
  ExpectFault(Path("GOTO/1,5,2,5,0,5\n"), "5", "1.5 and not 1,5");
  ExpectFault(Path("MULTAX/ON\nGOTO/1,5,2,5,0,5\n"), "6", "1.5 and not 1,5");
  ExpectFault(Path("FEDRAT/1,5,MMPM\n"), "5", "1.5 and not 1,5");
}

TEST(CutterLocationTest, ValuesThatAreNoFiniteNumbersAreNamed) {
  for (const char* bad : {"nan", "inf", "1e999", "1.5mm", "", "0x10", "--1", "1.2.3", "+-1", "1;2", "1/2"}) {
    ExpectFault(Path("GOTO/0," + std::string(bad) + ",0\n"), "5", "GOTO: argument 2 = ");
  }
  ExpectFault(Path("GOTO/0,0,1.1e6\n"), "5", "beyond");
  ExpectFault(Path("GOTO/0,0,9e5\nGODLTA/0,0,9e5\n"), "6", "beyond");
}

// Just inside one millionth is read and normalised, just outside is refused.
TEST(CutterLocationTest, AxisLengthIsHeldToOneMillionth) {
  const auto rows = Read(Path("MULTAX/ON\nGOTO/0,0,0,0,0,1.0000009\n")).rows;
  EXPECT_EQ(rows[0].axis_S, Vector3d(0, 0, 1));
  ExpectFault(Path("MULTAX/ON\nGOTO/0,0,0,0,0,1.0000011\n"), "6", "normalise");
  ExpectFault(Path("MULTAX/ON\nGOTO/0,0,0,0,0,0.9999989\n"), "6", "normalise");
  ExpectFault(Path("MULTAX/ON\nGOTO/0,0,0,0,0,0\n"), "6", "length 0");
  ExpectFault(Path("TLAXIS/0,0,2\n"), "5", "normalise");
  ExpectFault(Path("MULTAX/ON\nGOTO/0,0,0\n"), "6", "gives no tool axis");
}

TEST(CutterLocationTest, RapidServesOneMotion) {
  const auto rows = Read(Path("RAPID\nFEDRAT/60,MMPM\nCOOLNT/ON\nGOTO/0,0,9\nGOTO/0,0,0\nRAPID\nGODLTA/0,0,9\n"
                              "GODLTA/0,0,-9\n")).rows;
  ASSERT_EQ(rows.size(), 4u);
  EXPECT_EQ(rows[0].move, MoveKind::kRapid);
  EXPECT_EQ(rows[1].move, MoveKind::kCut);
  EXPECT_EQ(rows[1].feed_mm_s, 1.0);
  EXPECT_EQ(rows[2].move, MoveKind::kRapid);
  EXPECT_EQ(rows[3].move, MoveKind::kCut);
  ExpectFault(Path("RAPID\nRAPID\nGOTO/0,0,0\n"), "6", "given twice, in line 5");
  ExpectFault(Path("GOTO/0,0,0\nRAPID\n"), "6", "RAPID is not followed by a motion");
  ExpectFault(Path("RAPID/5\nGOTO/0,0,0\n"), "5", "must stand alone");
  // FROM is where the tool stands, not a motion.
  EXPECT_EQ(Read(Path("RAPID\nFROM/0,0,0\nGOTO/0,0,9\n")).rows[1].move, MoveKind::kRapid);
}

TEST(CutterLocationTest, StartPointStandsBeforeAnyMotion) {
  ExpectFault(Path("GOTO/0,0,0\nFROM/0,0,9\n"), "6", "FROM");
  ExpectFault(Path("FROM/0,0,0\nFROM/0,0,9\n"), "6", "FROM");
  ExpectFault(Path("GODLTA/0,0,1\n"), "5", "no point to start from");
  const auto rows = Read(Path("MULTAX/ON\nFROM/1,2,3,0,1,0\nGODLTA/1,1,1\n")).rows;
  EXPECT_EQ(rows[0].axis_S, Vector3d(0, 1, 0));
  EXPECT_EQ(rows[1].p_SQ, Vector3d(2, 3, 4));
}

// Oracle: the units by definition; 0.05 mm a turn at 12000 rpm is 10 mm/s.
TEST(CutterLocationTest, FeedUnitsAreConvertedAndHold) {
  const auto rows = Read(Path("GOTO/0,0,0\nFEDRAT/0.05,MMPR\nGOTO/1,0,0\nSPINDL/6000,RPM,CCLW\nGOTO/2,0,0\n"
                              "FEDRAT/IPR,0.01\nGOTO/3,0,0\nFEDRAT/30,INVERS\nGOTO/3,4,0\nGODLTA/0,0,10\n"
                              "GODLTA/0,0,0\nFEDRAT/6,MMPM\nGOTO/0,0,0\n")).rows;
  ASSERT_EQ(rows.size(), 8u);
  EXPECT_DOUBLE_EQ(rows[0].feed_mm_s, 10.0);
  EXPECT_DOUBLE_EQ(rows[1].feed_mm_s, 10.0);
  EXPECT_DOUBLE_EQ(rows[2].feed_mm_s, 5.0);
  EXPECT_DOUBLE_EQ(rows[3].feed_mm_s, 25.4);
  EXPECT_DOUBLE_EQ(rows[4].duration_s.value(), 2.0);
  EXPECT_DOUBLE_EQ(rows[4].feed_mm_s, 2.0);
  EXPECT_DOUBLE_EQ(rows[5].duration_s.value(), 2.0);
  EXPECT_DOUBLE_EQ(rows[5].feed_mm_s, 5.0);
  EXPECT_DOUBLE_EQ(rows[6].duration_s.value(), 2.0);
  EXPECT_GT(rows[6].feed_mm_s, 0.0);
  EXPECT_FALSE(rows[7].duration_s);
  EXPECT_DOUBLE_EQ(rows[7].feed_mm_s, 0.1);
}

TEST(CutterLocationTest, FeedFaultsAreNamed) {
  ExpectFault("UNITS/MM\nLOADTL/1\nSPINDL/9000,RPM,CLW\nGOTO/0,0,0\nFINI\n", "4", "feed of this cut is missing");
  ExpectFault(Path("FEDRAT/100\n"), "5", "unit of the feed is missing");
  ExpectFault(Path("FEDRAT/MMPM\n"), "5", "no number");
  ExpectFault(Path("FEDRAT/100,MM\n"), "5", "unit MM is not known");
  ExpectFault(Path("FEDRAT/0,MMPM\n"), "5", "must be > 0");
  ExpectFault(Path("FEDRAT/-5,MMPM\n"), "5", "must be > 0");
  ExpectFault(Path("FEDRAT/100,MMPM,IPM\n"), "5", "FEDRAT has 3 arguments");
  ExpectFault(Path("FEDRAT/0.1,MMPR\nSPINDL/OFF\nGOTO/0,0,0\n"), "7", "stands still");
  ExpectFault(Path("FEDRAT/30,INVERS\nGOTO/0,0,0\n"), "6", "no start");
}

TEST(CutterLocationTest, SpindleWordsMayStandInAnyOrder) {
  const auto program = Read("UNITS/MM\nLOADTL/1\nFEDRAT/60,MMPM\nSPINDL/RPM,9000,CCLW\nGOTO/0,0,0\nSPINDL/OFF\n"
                            "GOTO/1,0,0\nSPINDL/ON\nGOTO/2,0,0\nSPINDL/CLW,RPM,8000\nGOTO/3,0,0\nFINI\n");
  const double speeds[] = {-9000, 0, -9000, 8000};
  std::vector<double> told;
  for (const PathEvent& event : program.events) {
    if (event.kind == PathEventKind::kSpindle) told.push_back(event.value);
  }
  ASSERT_EQ(program.rows.size(), 4u);
  ASSERT_EQ(told.size(), 4u);
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_EQ(program.rows[i].spindle_rpm, speeds[i]);
    EXPECT_EQ(told[i], speeds[i]);
  }
}

TEST(CutterLocationTest, SpindleFaultsAreNamed) {
  ExpectFault("SPINDL/9000,CLW\n", "1", "unit of the speed is missing");
  ExpectFault("SPINDL/9000,RPM\n", "1", "way the spindle turns is missing");
  ExpectFault("SPINDL/9000,SFM,CLW\n", "1", "SFM is not known");
  ExpectFault("SPINDL/9000,RPM,CLW,CCLW\n", "1", "CCLW is not known or given twice");
  ExpectFault("SPINDL/9000,RPM,RPM,CLW\n", "1", "RPM is not known or given twice");
  ExpectFault("SPINDL/-9000,RPM,CLW\n", "1", "must be > 0");
  ExpectFault("SPINDL/0,RPM,CLW\n", "1", "SPINDL/OFF");
  ExpectFault("SPINDL/RPM,CLW\n", "1", "no number");
  ExpectFault("SPINDL/ON\n", "1", "no speed to go back to");
  ExpectFault("SPINDL/1,2,RPM,CLW\n", "1", "more than one number");
  ExpectFault("UNITS/MM\nLOADTL/1\nFEDRAT/60,MMPM\nGOTO/0,0,0\nSPINDL/9000,RPM,CLW\nFINI\n", "4",
              "before the spindle is stated");
}

TEST(CutterLocationTest, CutterIsKnownBeforeTheFirstRow) {
  ExpectFault("UNITS/MM\nFROM/0,0,0\nLOADTL/1\nFINI\n", "2", "cutter is missing");
  for (const char* bad : {"1.5", "-1", "10000", "A", ""}) {
    EXPECT_THROW(Read("LOADTL/" + std::string(bad) + "\n" + Path("GOTO/0,0,0\n")), InputError) << bad;
  }
  ExpectFault("UNITS/MM\nLOADTL/1,LENGTH\n", "2", "LOADTL/n,LENGTH,l");
  ExpectFault("UNITS/MM\nLOADTL/1,LENGTH,-5\n", "2", "LENGTH = -5");
  ExpectFault("UNITS/MM\nLOADTL/1,ADJUST,5\n", "2", "LOADTL/n,LENGTH,l");
  const auto program = Read(Path("GOTO/0,0,0\nTOOLNO/7,LENGTH,55\nGOTO/1,0,0\n"));
  EXPECT_EQ(program.rows[0].tool, 1);
  EXPECT_EQ(program.rows[1].tool, 7);
  EXPECT_EQ(program.events[2].kind, PathEventKind::kTool);
  EXPECT_EQ(program.events[2].before, 1);
  EXPECT_EQ(program.events[3].kind, PathEventKind::kToolLength);
  EXPECT_EQ(program.events[3].value, 55);
}

// Values that the file does not say come from the job and are told as events.
TEST(CutterLocationTest, DefaultsHoldUntilTheFileSpeaks) {
  PathRules rules;
  rules.defaults.tool = 4;
  rules.defaults.spindle_rpm = -7000;
  rules.defaults.feed_mm_s = 9;
  const auto program = Read("UNITS/MM\nGOTO/0,0,0\nSPINDL/OFF\nSPINDL/ON\nFEDRAT/60,MMPM\nLOADTL/5\nGOTO/1,0,0\nFINI\n", rules);
  EXPECT_EQ(program.rows[0].tool, 4);
  EXPECT_EQ(program.rows[0].spindle_rpm, -7000);
  EXPECT_EQ(program.rows[0].feed_mm_s, 9);
  EXPECT_EQ(program.rows[1].tool, 5);
  EXPECT_EQ(program.rows[1].spindle_rpm, -7000);
  EXPECT_EQ(program.rows[1].feed_mm_s, 1);
  ASSERT_GE(program.events.size(), 2u);
  EXPECT_EQ(program.events[0].kind, PathEventKind::kTool);
  EXPECT_EQ(program.events[0].value, 4);
  EXPECT_EQ(program.events[1].kind, PathEventKind::kSpindle);
  EXPECT_EQ(program.events[1].value, -7000);
  // A file that speaks first leaves nothing of them.
  for (const PathEvent& event : Read(Path("GOTO/0,0,0\n"), rules).events) EXPECT_NE(event.value, 4);
}

// Oracle: the seven parameters by definition; the short forms are a flat end with
// rounded corner: its centre lies d/2 - r from the axis and r above the tip.
TEST(CutterLocationTest, CutterShapesAreTold) {
  const auto shape = [](const std::string& statement) {
    return Read("UNITS/MM\n" + statement + "\n" + Path("GOTO/0,0,0\n")).events.at(0).shape;
  };
  EXPECT_EQ(shape("CUTTER/6"), (std::array<double, 7>{6, 0, 3, 0, 0, 0, 0}));
  EXPECT_EQ(shape("CUTTER/6,3"), (std::array<double, 7>{6, 3, 0, 3, 0, 0, 0}));
  EXPECT_EQ(shape("CUTTER/10,2"), (std::array<double, 7>{10, 2, 3, 2, 0, 0, 0}));
  const auto full = shape("CUTTER/12,0.5,1,0.75,30,-45,40");
  const double degree = std::acos(-1.0) / 180;
  const double expected[] = {12, 0.5, 1, 0.75, 30 * degree, -45 * degree, 40};
  for (std::size_t i = 0; i < 7; ++i) EXPECT_NEAR(full[i], expected[i], 1e-15) << i;
  for (const char* bad : {"CUTTER", "CUTTER/0", "CUTTER/-6", "CUTTER/6,4", "CUTTER/6,-1", "CUTTER/6,3,0",
                          "CUTTER/6,3,0,3,0,0", "CUTTER/6,3,0,3,90,0,40", "CUTTER/6,3,0,3,0,-90,40",
                          "CUTTER/6,3,0,3,0,0,-1", "CUTTER/6,3,0,3,0,0,40,1"}) {
    ExpectFault("UNITS/MM\n" + std::string(bad) + "\n" + Path("GOTO/0,0,0\n"), "2", "CUTTER");
  }
}

TEST(CutterLocationTest, OrdersBesidesMovesAreTold) {
  const auto events = Read(Path("COOLNT/FLOOD\nGOTO/0,0,0\nCOOLNT/OFF\nDELAY/1.5\nSTOP\nOPSTOP\nCOOLNT/MIST\nCOOLNT/ON\n"
                                "INTOL/0.01\nOUTTOL/0.02\nEND\n")).events;
  using Kind = PathEventKind;
  const std::pair<Kind, double> expected[] = {{Kind::kTool, 1},  {Kind::kSpindle, 12000}, {Kind::kCoolant, 1},
                                              {Kind::kCoolant, 0}, {Kind::kDwell, 1.5},     {Kind::kStop, 0},
                                              {Kind::kOptionalStop, 0}, {Kind::kCoolant, 1}, {Kind::kCoolant, 1},
                                              {Kind::kEnd, 0}};   // once, though FINI follows
  ASSERT_EQ(events.size(), std::size(expected));
  for (std::size_t i = 0; i < events.size(); ++i) {
    EXPECT_EQ(events[i].kind, expected[i].first) << i;
    EXPECT_EQ(events[i].value, expected[i].second) << i;
    EXPECT_EQ(events[i].before, i < 3 ? 0 : 1) << i;
  }
  ExpectFault(Path("COOLNT\n"), "5", "COOLNT must be written as");
  ExpectFault(Path("COOLNT/AIR\n"), "5", "AIR is not known");
  ExpectFault(Path("DELAY/-1\n"), "5", "DELAY = -1");
  ExpectFault(Path("DELAY/3,REV\n"), "5", "DELAY has 2 arguments");
  ExpectFault(Path("STOP/1\n"), "5", "must stand alone");
  ExpectFault(Path("INTOL\n"), "5", "INTOL has 0 arguments");
  ExpectFault(Path("OUTTOL/A\n"), "5", "argument 1 = A");
}

TEST(CutterLocationTest, EndIsTheEnd) {
  ExpectFault(Path("GOTO/0,0,0\n") + "GOTO/1,1,1\n", "7", "GOTO follows FINI");
  EXPECT_EQ(Read(Path("GOTO/0,0,0\n") + "\n$$ written on a Monday\n   \n").rows.size(), 1u);
  ExpectFault(Path("GOTO/0,0,0\nEND\nGOTO/1,1,1\n"), "7", "GOTO follows END");
  ExpectFault(std::string(kStart) + "GOTO/0,0,0\n", "", "without FINI");
  ExpectFault(std::string(kStart) + "GOTO/0,0,0\nEND\n", "", "without FINI");
  ExpectFault(Path(""), "", "path is empty");
  ExpectFault("", "", "without FINI");
}

TEST(CutterLocationTest, UnknownStatementsAreNeverPassedOver) {
  ExpectFault(Path("GOTA/1,2,3\n"), "5", "GOTA is not a known statement, did you mean GOTO? mend the word");
  ExpectFault(Path("CYCLEX/DRILL\n"), "5", "is not a known statement");
  ExpectFault(Path("/1,2\n"), "5", "must begin with a word");
  ExpectFault(Path("GOTO,1,2,3\n"), "5", "one statement a line");
  ExpectFault(Path("CLEARP/XYPLAN,50\n"), "5", "path.ignore_words");
  ExpectFault(Path("RETRCT\n"), "5", "path.ignore_words");
  PathRules rules;
  rules.ignore_words = {"Rotabl", "CLEARP", "RETRCT", "COOLNT"};
  const auto program = Read(Path("ROTABL/5,$\nATANGL\nClearp/XYPLAN,50\nRETRCT\nCOOLNT/AIR\nrotabl anything;\nGOTO/1,2,3\n"), rules);
  ASSERT_EQ(program.rows.size(), 1u);
  EXPECT_EQ(program.rows[0].line, 11);
  rules.ignore_words = {"goto"};
  ExpectFault(Path("GOTO/1,2,3\n"), "", "ignore_words lists goto", rules);
}

TEST(CutterLocationTest, TextInSixteenBitUnitsIsRefused) {
  ExpectFault(std::string("\xff\xfeU\0N\0I\0", 8), "1", "UTF-16");
  ExpectFault(std::string("U\0N\0I\0T\0", 8), "1", "zero byte");
}

// Oracle: the contract: whatever the bytes, a path is read or an InputError says
// why not, and what is read obeys the bounds of its rows.
TEST(CutterLocationTest, DamagedFilesAreReadOrRefused) {
  const std::string whole = "PARTNO x\nUNITS/MM\nMULTAX/ON\nLOADTL/1,LENGTH,50\nSPINDL/9000,RPM,CLW\nFEDRAT/600,MMPM\n"
                            "CUTTER/6,3,0,3,0,0,40\nFROM/0,0,9,0,0,1\nRAPID\nGOTO/1,2,3,0.6,0,0.8\nGOTO/1,2,$\n3\n"
                            "GODLTA/1,0,0\nTLAXIS/0,0,1\nDELAY/1\nCOOLNT/ON\nFEDRAT/9,INVERS\nGOTO/4,5,6\nEND\nFINI\n";
  constexpr char kDamage[] = "$/,.\n -+eE019AGO\0\xff;";
  const std::string kBytes(kDamage, sizeof(kDamage) - 1);
  std::mt19937_64 rng(20240607);
  const auto draw = [&](std::size_t below) { return std::uniform_int_distribution<std::size_t>(0, below - 1)(rng); };
  int read = 0;
  constexpr int kFiles = 600;
  for (int i = 0; i < kFiles; ++i) {
    std::string text = whole;
    const std::size_t at = draw(text.size());
    switch (draw(4)) {
      case 0: text[at] = kBytes[draw(kBytes.size())]; break;
      case 1: text.insert(at, 1, kBytes[draw(kBytes.size())]); break;
      case 2: text.erase(at, 1 + draw(3)); break;
      default: text.insert(at, text.substr(draw(text.size()), draw(20))); break;
    }
    try {
      const PathProgram program = Read(text);
      ++read;
      for (const PoseRow& row : program.rows) {
        ASSERT_TRUE(row.p_SQ.allFinite()) << text;
        ASSERT_NEAR(row.axis_S.norm(), 1.0, 1e-15) << text;
        ASSERT_TRUE(row.move == MoveKind::kRapid || row.feed_mm_s > 0) << text;
      }
    } catch (const InputError&) {
    }
  }
  EXPECT_GT(read, kFiles / 20);   // else the damage shows one side only
  EXPECT_LT(read, kFiles - kFiles / 20);
}

// Every word of the reference is known to the reader: none is called unknown.
TEST(CutterLocationTest, ReferenceHoldsTheWordsOfTheReader) {
  std::set<std::string> words;
  for (const CutterLocationWord& entry : CutterLocationWords()) {
    EXPECT_TRUE(words.insert(entry.word).second) << entry.word;
    EXPECT_EQ(entry.form.rfind(entry.word, 0), 0u) << entry.form;
    EXPECT_FALSE(entry.meaning.empty());
    try {
      Read(entry.word + "\n");
      ADD_FAILURE() << "a path of one word cannot be whole";
    } catch (const InputError& error) {
      EXPECT_THAT(error.what(), Not(HasSubstr("not a known"))) << entry.word;
    }
  }
  for (const char* word : {"PARTNO", "PPRINT", "REMARK", "UNITS", "MULTAX", "GOTO", "FROM", "GODLTA", "TLAXIS", "CUTTER",
                           "LOADTL", "TOOLNO", "SPINDL", "FEDRAT", "RAPID", "COOLNT", "DELAY", "CLEARP", "RETRCT",
                           "INTOL", "OUTTOL", "STOP", "OPSTOP", "END", "FINI"}) {
    EXPECT_EQ(words.count(word), 1u) << word;
  }
}

}  // namespace
}  // namespace aircut::sim
