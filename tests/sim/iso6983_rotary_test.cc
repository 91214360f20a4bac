#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/iso6983.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::kPi;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;
using Turns = RotaryRule::Turns;

constexpr double kTol = 1e-12;

std::vector<PoseRow> Read(const std::string& text, const PathRules& rules) {
  const test::TempFolder folder;
  std::vector<PoseRow> rows;
  ReadIso6983(folder.Write("path.nc", "G21 G90 G94 G17\nT1 M06\n" + text + "M30\n"), rules,
              {[&](const PoseRow& row) { rows.push_back(row); }, [](const PathEvent&) {}});
  return rows;
}

void ExpectFault(const std::string& text, const std::string& line, const std::string& words, const PathRules& rules) {
  EXPECT_THAT([&] { Read(text, rules); },
              ThrowsMessage<InputError>(AllOf(HasSubstr("path.nc:" + line + ":"), HasSubstr(words))))
      << text;
}

PathRules Rotary(Turns turns, const std::string& order) {
  PathRules rules;
  rules.rotary = RotaryRule{turns, order};
  return rules;
}

// Oracle: right-hand rule by hand. A90 lays the tool from +Z to -Y; C90 then turns
// -Y to +X. B90 lays it from +Z to +X.
TEST(Iso6983RotaryTest, TurnedToolPointsWhereTheRightHandSays) {
  const auto rows = Read("G00 X1 Y2 Z3 C0 A0\nA90\nC90\nA-45\n", Rotary(Turns::kTool, "CA"));
  const Eigen::Vector3d axes[] = {{0, 0, 1}, {0, -1, 0}, {1, 0, 0}, {-std::sqrt(0.5), 0, std::sqrt(0.5)}};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_NEAR((rows[i].axis_S - axes[i]).norm(), 0, kTol) << i;
    EXPECT_EQ(rows[i].p_SQ, Eigen::Vector3d(1, 2, 3));
  }
  const auto b = Read("G00 X1 Y2 Z3 B90\n", Rotary(Turns::kTool, "B"));
  EXPECT_NEAR((b[0].axis_S - Eigen::Vector3d(1, 0, 0)).norm(), 0, kTol);
}

// Oracle: by hand. The order matters: Rx(90) Rz(90) z = -Y, Rz(90) Rx(90) z = +X.
TEST(Iso6983RotaryTest, OrderRunsFromTheBaseOutwards) {
  const std::string text = "G00 X0 Y0 Z0 A90 C90\n";
  EXPECT_NEAR((Read(text, Rotary(Turns::kTool, "CA"))[0].axis_S - Eigen::Vector3d(1, 0, 0)).norm(), 0, kTol);
  EXPECT_NEAR((Read(text, Rotary(Turns::kTool, "AC"))[0].axis_S - Eigen::Vector3d(0, -1, 0)).norm(), 0, kTol);
}

// Oracle: by hand. The table turned by +90 degrees about Z carries the work's point
// (0, -5) to (5, 0); tilted by A90, a work's axis +Y comes to point up.
TEST(Iso6983RotaryTest, TurnedWorkSeesPointAndToolTurnedBack) {
  const auto c = Read("G00 X5 Y0 Z1 C90\n", Rotary(Turns::kWork, "C"));
  EXPECT_NEAR((c[0].p_SQ - Eigen::Vector3d(0, -5, 1)).norm(), 0, kTol);
  EXPECT_NEAR((c[0].axis_S - Eigen::Vector3d(0, 0, 1)).norm(), 0, kTol);
  const auto a = Read("G00 X0 Y0 Z7 A90\n", Rotary(Turns::kWork, "A"));
  EXPECT_NEAR((a[0].axis_S - Eigen::Vector3d(0, 1, 0)).norm(), 0, kTol);
  EXPECT_NEAR((a[0].p_SQ - Eigen::Vector3d(0, 7, 0)).norm(), 0, kTol);
}

TEST(Iso6983RotaryTest, IncrementalTurnsAddUpAndAreOneRow) {
  const auto rows = Read("G00 X0 Y0 Z0 A10 C0\nG91 G01 X30 A20 F600\n", Rotary(Turns::kTool, "CA"));
  ASSERT_EQ(rows.size(), 2u);
  EXPECT_NEAR(rows[1].axis_S.z(), std::cos(kPi / 6), kTol);
  EXPECT_EQ(rows[1].feed_mm_s, 10.0);
  EXPECT_FALSE(rows[1].duration_s.has_value());
}

// Oracle: definition. F180 is 180 degrees a minute where nothing but A and C move:
// 5 degrees (3-4-5) take 5/3 s. A quarter turn of the table at a radius of 10 mm,
// while X goes out by 5 mm at 300 mm/min, takes one second whatever S sees.
TEST(Iso6983RotaryTest, TimeFollowsTheWordsThatMove) {
  const auto tool = Read("G00 X0 Y0 Z0 A0 C0\nG01 A3 C4 F180\n", Rotary(Turns::kTool, "CA"));
  EXPECT_NEAR(*tool[1].duration_s, 5.0 / 3.0, kTol);
  EXPECT_GT(tool[1].feed_mm_s, 0.0);
  const auto work = Read("G00 X10 Y0 Z0 C0\nG01 X15 C90 F300\n", Rotary(Turns::kWork, "C"));
  EXPECT_NEAR(*work[1].duration_s, 1.0, kTol);
  EXPECT_NEAR(work[1].feed_mm_s, std::hypot(10, 15), 1e-9);
  const auto pure = Read("G00 X10 Y0 Z0 C0\nG01 C90 F1800\n", Rotary(Turns::kWork, "C"));
  EXPECT_NEAR(*pure[1].duration_s, 3.0, kTol);
  EXPECT_NEAR(pure[1].feed_mm_s, std::hypot(10, 10) / 3.0, 1e-9);
}

TEST(Iso6983RotaryTest, VectorWordsAreTheAxisInStraightMovesAndTheCentreInArcs) {
  const auto rows = Read("G00 X10 Y0 Z0 I0.6 J0 K0.8\nG01 X12 F60\nI0 J0 K1\nG03 X-12 I-12 J0\n", Rotary(Turns::kTool, ""));
  EXPECT_EQ(rows[0].axis_S, Eigen::Vector3d(0.6, 0, 0.8));
  EXPECT_EQ(rows[1].axis_S, Eigen::Vector3d(0.6, 0, 0.8));
  EXPECT_EQ(rows[2].axis_S, Eigen::Vector3d(0, 0, 1));
  EXPECT_EQ(rows.back().axis_S, Eigen::Vector3d(0, 0, 1));
  EXPECT_EQ(rows.back().p_SQ, Eigen::Vector3d(-12, 0, 0));
}

TEST(Iso6983RotaryTest, FaultsNameTheKeyOrTheWord) {
  ExpectFault("G00 X0 Y0 Z0 A0\n", "3", "give path.rotary with its order", {});
  ExpectFault("G00 X0 Y0 Z0 A0 C0 B0\n", "3", "B is not in path.rotary.order = CA", Rotary(Turns::kTool, "CA"));
  ExpectFault("G00 X0 Y0 Z0 A0\n", "3", "C is not known here", Rotary(Turns::kTool, "CA"));
  ExpectFault("G91 G00 X0 Y0 Z0 A0 C0\n", "3", "X is not known here", Rotary(Turns::kTool, "CA"));
  ExpectFault("G00 X0 Y0 Z0\n", "3", "the tool axis is not known here", Rotary(Turns::kTool, ""));
  ExpectFault("G00 X0 Y0 Z0 I0 K1\n", "3", "write all three", Rotary(Turns::kTool, ""));
  ExpectFault("G00 X0 Y0 Z0 I0 J0 K1.1\n", "3", "has length 1.1, must be 1", Rotary(Turns::kTool, ""));
  ExpectFault("G00 X0 Y0 Z0 I0 J0 K1.000002\n", "3", "must be 1", Rotary(Turns::kTool, ""));
  EXPECT_NO_THROW(Read("G00 X0 Y0 Z0 I0 J0 K1.0000009\n", Rotary(Turns::kTool, "")));
  ExpectFault("G00 X0 Y0 Z0 I0 J0 K1\n", "3", "only if path.rotary", {});
  ExpectFault("G00 X0 Y0 Z0 A0\nG02 X4 I2 A5 F100\n", "4", "arc turns a rotary axis", Rotary(Turns::kTool, "A"));
  EXPECT_NO_THROW(Read("G00 X0 Y0 Z0 A5\nG02 X4 I2 A5 F100\n", Rotary(Turns::kTool, "A")));
  ExpectFault("G00 X0 Y0 Z0 A0\nG95 S1000 M03\nG01 A5 F100\n", "5", "no feed a turn", Rotary(Turns::kTool, "A"));
  for (const char* order : {"CAC", "X", "ca", "CABA"}) {
    EXPECT_THAT([&] { Read("", Rotary(Turns::kTool, order)); },
                ThrowsMessage<InputError>(HasSubstr("path.rotary.order = " + std::string(order))));
  }
  EXPECT_THAT([&] { Read("", Rotary(Turns::kWork, "")); }, ThrowsMessage<InputError>(HasSubstr("path.rotary.turns")));
}

// A start without its turn or axis is not a whole start.
TEST(Iso6983RotaryTest, DeclaredStartMustBeWholeToBeUsed) {
  PathRules turns = Rotary(Turns::kTool, "A");
  turns.modal = "G21 G90 X0 Y0 Z0";
  ExpectFault("G00 X1\n", "3", "A is not known here", turns);
  ExpectFault("G91 G00 A10\n", "3", "A is not known here", turns);
  turns.modal += " A30";
  EXPECT_NEAR(Read("G91 G00 A30\n", turns)[1].axis_S.z(), 0.5, kTol);
  PathRules vector = Rotary(Turns::kTool, "");
  vector.modal = "G21 G90 X0 Y0 Z0";
  ExpectFault("G00 X1\n", "3", "the tool axis is not known here", vector);
  vector.modal += " I1 J0 K0";
  const auto rows = Read("G00 X1\n", vector);
  ASSERT_EQ(rows.size(), 2u);
  EXPECT_EQ(rows[1].axis_S, Eigen::Vector3d(1, 0, 0));
}

// Oracle: rigid motion by hand. The path's zero lies at (100, 0, 0), turned by 90
// degrees about Z: path X is S's Y.
TEST(Iso6983RotaryTest, WorkOffsetMovesPointsAndAxes) {
  PathRules rules = Rotary(Turns::kTool, "B");
  const Eigen::Matrix3d quarter = Eigen::AngleAxisd(kPi / 2, Eigen::Vector3d::UnitZ()).toRotationMatrix();
  rules.work_offsets[54] = kinematics::MakePose(quarter, {100, 0, 0});
  rules.work_offsets[55] = kinematics::MakePose(quarter, {100, 10, 3});
  rules.work_offsets[56] = kinematics::MakePose(Eigen::Matrix3d::Identity(), {0, 0, 0});
  const auto rows = Read("G54 G00 X5 Y1 Z2 B90\nG55 X5\n", rules);
  EXPECT_NEAR((rows[0].p_SQ - Eigen::Vector3d(99, 5, 2)).norm(), 0, kTol);
  EXPECT_NEAR((rows[0].axis_S - Eigen::Vector3d(0, 1, 0)).norm(), 0, kTol);
  // X counts from the new zero; Y and Z, not written, stay where they are in S.
  EXPECT_NEAR((rows[1].p_SQ - Eigen::Vector3d(99, 15, 2)).norm(), 0, kTol);
  // Path Z, X, Y are S's Z, Y and -X: a half circle in path ZX bulges to S's +Y.
  const auto arc = Read("G54 G00 X0 Y0 Z10 B0\nG18 G03 Z-10 K-10 F60\n", rules);
  EXPECT_NEAR((arc[arc.size() / 2].p_SQ - Eigen::Vector3d(100, 10, 0)).norm(), 0, 1e-9);
  EXPECT_NEAR((arc.back().p_SQ - Eigen::Vector3d(100, 0, -10)).norm(), 0, kTol);
  PathRules work = rules;
  work.rotary = RotaryRule{Turns::kWork, "B"};
  EXPECT_NO_THROW(Read("G54 G00 X5 Y1 Z2 B90\nG54 X5\n", work)) << "the same offset again changes nothing";
  ExpectFault("G54 G00 X5 Y1 Z2 B90\nG55 X5\n", "4", "the first move after G55 must give Y", work);
  ExpectFault("G54 G00 X5 Y1 Z2 B90\nG56 X5\n", "4", "the first move after G56 must give Y", rules);
  ExpectFault("G00 X5 Y1 Z2 B90\n", "3", "none is in force", rules);
  ExpectFault("G57 G00 X5 Y1 Z2 B90\n", "3", "give path.work_offsets.57", rules);
  rules.modal = "G54";
  EXPECT_NEAR((Read("G00 X5 Y1 Z2 B90\n", rules)[0].p_SQ - Eigen::Vector3d(99, 5, 2)).norm(), 0, kTol);
}

TEST(Iso6983RotaryTest, LengthOffsetIsHandedOnAndTheHeightGivenAnew) {
  PathRules rules;
  rules.length_offsets_mm = {{1, 85.5}, {2, 60}};
  const auto rows = Read("G00 X0 Y0 Z50\nG43 H1 Z40\nX1\nG44 H2 Z40\nG49 Z30\n", rules);
  EXPECT_FALSE(rows[0].length_offset_mm.has_value());
  EXPECT_EQ(rows[1].length_offset_mm, 85.5);
  EXPECT_EQ(rows[2].length_offset_mm, 85.5);
  EXPECT_EQ(rows[3].length_offset_mm, -60.0);
  EXPECT_FALSE(rows[4].length_offset_mm.has_value());
  ExpectFault("G00 X0 Y0 Z50\nG43 H1\nX1\n", "5", "the first move after G43 must give Z", rules);
  ExpectFault("G00 X0 Y0 Z50\nG43 H1\nG91 Z1\n", "5", "Z is not known here", rules);
  EXPECT_NO_THROW(Read("G00 X0 Y0 Z50\nG43 H1 Z40\nG43 H1\nX1\n", rules)) << "the same offset again changes nothing";
  PathRules tilted = rules;
  tilted.rotary = RotaryRule{Turns::kTool, "B"};
  ExpectFault("G00 X0 Y0 Z50 B30\nG43 H1 Z40\n", "4", "the first move after G43 must give X", tilted);
  ExpectFault("G43 H3\n", "3", "give path.length_offsets.3", rules);
  ExpectFault("G43\n", "3", "G43 must come with H", rules);
  ExpectFault("G49 H1\n", "3", "H stands with G49", rules);
  ExpectFault("H1\n", "3", "H stands without G43", rules);
  ExpectFault("G43 H1.5\n", "3", "H = 1.5 must be a whole number", rules);
}

}  // namespace
}  // namespace aircut::sim
