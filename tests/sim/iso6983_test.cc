#include "sim/iso6983.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/path_file.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::kPi;
using kinematics::MoveKind;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

struct Path {
  std::vector<PoseRow> rows;
  std::vector<PathEvent> events;
};

Path Read(const std::string& text, const PathRules& rules = {}) {
  const test::TempFolder folder;
  Path path;
  PathSink sink;
  sink.row = [&](const PoseRow& row) { path.rows.push_back(row); };
  sink.event = [&](const PathEvent& event) { path.events.push_back(event); };
  ReadIso6983(folder.Write("path.nc", text), rules, sink);
  return path;
}

void ExpectFault(const std::string& text, const std::string& line, const std::string& words, const PathRules& rules = {}) {
  EXPECT_THAT([&] { Read(text, rules); },
              ThrowsMessage<InputError>(AllOf(HasSubstr("path.nc:" + line + ":"), HasSubstr(words))))
      << text;
}

// Three lines that say all that must be said, so that a test can begin at line 4
// from (0, 0, 50) with cutter 1 at 12000 rpm and 600 mm/min.
const std::string kHead = "G21 G90 G94 G17\nT1 M06\nS12000 M03 F600\nG00 X0 Y0 Z50\n";
const std::string kEnd = "M30\n";

std::vector<PoseRow> RowsAfterHead(const std::string& text, const PathRules& rules = {}) {
  std::vector<PoseRow> rows = Read(kHead + text + kEnd, rules).rows;
  rows.erase(rows.begin());
  return rows;
}

// A fault in the block that follows the head, line 5.
void ExpectFaultAfterHead(const std::string& block, const std::string& words, const PathRules& rules = {}) {
  ExpectFault(kHead + block + "\n" + kEnd, "5", words, rules);
}

// Oracle: the meaning of each word, written out by hand.
TEST(Iso6983Test, WholeProgramGivesRowsAndEventsInOrder) {
  const Path path = Read(
      "%\n"
      "(groove, by hand)\n"
      "N10 G21 G90 G17 G94 G40 G49 G80\n"
      "N20 T3 M06\n"
      "N30 S9000 M03 ; on\n"
      "N40 G04 P2.5\n"
      "N50 G00 X10 Y-20 Z30 M08\n"
      "N60 G01 Z-1.5 F300\n"
      "N70 X40. F1200\n"
      "N80 G0 Z30 M09\n"
      "N90 M05\n"
      "N100 M30\n"
      "%\n");
  ASSERT_EQ(path.rows.size(), 4u);
  const double z[] = {30, -1.5, -1.5, 30}, x[] = {10, 10, 40, 40}, feed[] = {0, 5, 20, 0};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_EQ(path.rows[i].p_SQ, Eigen::Vector3d(x[i], -20, z[i]));
    EXPECT_EQ(path.rows[i].axis_S, Eigen::Vector3d(0, 0, 1));
    EXPECT_EQ(path.rows[i].feed_mm_s, feed[i]);
    EXPECT_EQ(path.rows[i].line, static_cast<int>(7 + i));
    EXPECT_EQ(path.rows[i].spindle_rpm, 9000);
    EXPECT_EQ(path.rows[i].tool, 3);
    EXPECT_EQ(path.rows[i].move, i == 0 || i == 3 ? MoveKind::kRapid : MoveKind::kCut);
    EXPECT_FALSE(path.rows[i].duration_s.has_value());
    EXPECT_FALSE(path.rows[i].length_offset_mm.has_value());
  }
  struct Expected {
    PathEventKind kind;
    int line, before;
    double value;
  };
  const Expected expected[] = {{PathEventKind::kTool, 4, 0, 3},    {PathEventKind::kSpindle, 5, 0, 9000},
                               {PathEventKind::kDwell, 6, 0, 2.5}, {PathEventKind::kCoolant, 7, 0, 1},
                               {PathEventKind::kCoolant, 10, 4, 0}, {PathEventKind::kSpindle, 11, 4, 0},
                               {PathEventKind::kEnd, 12, 4, 0}};
  ASSERT_EQ(path.events.size(), std::size(expected));
  for (std::size_t i = 0; i < std::size(expected); ++i) {
    EXPECT_EQ(path.events[i].kind, expected[i].kind) << i;
    EXPECT_EQ(path.events[i].line, expected[i].line) << i;
    EXPECT_EQ(path.events[i].before, expected[i].before) << i;
    EXPECT_EQ(path.events[i].value, expected[i].value) << i;
  }
}

// Oracle: case, blanks, leading zeros, CR LF and a byte-order mark carry no meaning.
TEST(Iso6983Test, WritingStylesAreOne) {
  const auto plain = Read(kHead + "G01 X1.5 Y-2 Z.25\nM30\n").rows;
  const auto other = Read("\xef\xbb\xbfg21g90 G94 g017\r\nt1m6\r\ns12000m3f600\r\ng0x0y0z50\r\ng1x 1.5\ty -2.0z+00.25\r\nm030").rows;
  ASSERT_EQ(plain.size(), other.size());
  for (std::size_t i = 0; i < plain.size(); ++i) {
    EXPECT_EQ(plain[i].p_SQ, other[i].p_SQ);
    EXPECT_EQ(plain[i].feed_mm_s, other[i].feed_mm_s);
    EXPECT_EQ(plain[i].line, other[i].line);
  }
}

// Oracle: the compiler's own reading of the same digits.
TEST(Iso6983Test, NumbersAreReadToTheLastBit) {
  EXPECT_EQ(RowsAfterHead("G01 X0.1 Y-123.456 Z.007\n")[0].p_SQ, Eigen::Vector3d(0.1, -123.456, .007));
  EXPECT_EQ(RowsAfterHead("G01 X0.10000000000000001 Y123456.78901234567 Z-0.00000000000000012345\n")[0].p_SQ,
            Eigen::Vector3d(0.10000000000000001, 123456.78901234567, -0.00000000000000012345));
}

// Oracle: one inch is 25.4 mm, for lengths, arcs and feeds; G20 is G70.
TEST(Iso6983Test, InchesScaleLengthsFeedsAndCentres) {
  for (const char* units : {"G20", "G70"}) {
    const auto rows = Read(std::string(units) + " G90 G94 G17\nT1 M6\nG0 X1 Y0 Z-.5\nG1 X2 F60\nG2 X2 Y0 I-1\nM2\n").rows;
    EXPECT_NEAR((rows[0].p_SQ - Eigen::Vector3d(25.4, 0, -12.7)).norm(), 0, 1e-12);
    EXPECT_NEAR(rows[1].feed_mm_s, 25.4, 1e-12);
    EXPECT_NEAR((rows[2].p_SQ.head<2>() - Eigen::Vector2d(25.4, 0)).norm(), 25.4, 1e-9);
    EXPECT_EQ(rows.back().p_SQ, rows[1].p_SQ);
  }
}

TEST(Iso6983Test, IncrementalMovesAddUp) {
  const auto rows = RowsAfterHead("G91 G01 X1 Z-50\nX1 Y2\nG90 X5\nG91 Y-1\n");
  EXPECT_EQ(rows[0].p_SQ, Eigen::Vector3d(1, 0, 0));
  EXPECT_EQ(rows[1].p_SQ, Eigen::Vector3d(2, 2, 0));
  EXPECT_EQ(rows[2].p_SQ, Eigen::Vector3d(5, 2, 0));
  EXPECT_EQ(rows[3].p_SQ, Eigen::Vector3d(5, 1, 0));
}

// Oracle: closed form by hand. Clockwise and counterclockwise are as seen from the
// far end of the third axis; G18 is ZX, so that there the first axis is Z.
TEST(Iso6983Test, ArcsTurnTheRightWayInAllPlanes) {
  struct Case {
    const char *start, *arc;
    Eigen::Vector3d middle;
  };
  const double d = 10 * std::sqrt(0.5);
  const Case cases[] = {
      {"G00 X10 Y0 Z0", "G17 G03 X0 Y10 I-10 J0", {d, d, 0}},
      {"G00 X10 Y0 Z0", "G17 G02 X0 Y10 I-10", {-d, -d, 0}},
      {"G00 X0 Y0 Z10", "G18 G03 X10 Z0 K-10", {d, 0, d}},
      {"G00 X0 Y0 Z10", "G18 G02 X10 Z0 K-10 I0", {-d, 0, -d}},
      {"G00 X0 Y10 Z0", "G19 G03 Y0 Z10 J-10", {0, d, d}},
      {"G00 X0 Y10 Z0", "G19 G02 Y0 Z10 J-10", {0, -d, -d}},
      {"G00 X10 Y0 Z0", "G17 G03 X0 Y10 R10", {d, d, 0}},
      {"G00 X10 Y0 Z0", "G17 G02 X0 Y10 R-10", {-d, -d, 0}},
      {"G00 X0 Y0 Z10", "G18 G03 X10 Z0 R10", {d, 0, d}},
      {"G00 X0 Y10 Z0", "G19 G02 Y0 Z10 R-10", {0, -d, -d}}};
  for (const Case& c : cases) {
    const auto rows = RowsAfterHead(std::string(c.start) + "\n" + c.arc + "\n");
    ASSERT_EQ(rows.size() % 2, 1u) << c.arc;   // one start, an even number of chords
    EXPECT_NEAR((rows[(rows.size() - 1) / 2].p_SQ - c.middle).norm(), 0, 1e-9) << c.arc;
    for (std::size_t i = 1; i < rows.size(); ++i) {
      EXPECT_EQ(rows[i].line, 6);
      EXPECT_NEAR(rows[i].p_SQ.norm(), 10, 1e-9) << c.arc;
      EXPECT_EQ(rows[i].feed_mm_s, 10);
      EXPECT_EQ(rows[i].move, MoveKind::kCut);
    }
  }
}

// Oracle: closed form of a helix: one turn about (10, 0) while Z sinks by 4 mm.
TEST(Iso6983Test, FullCircleWithoutEndAndHelixComeBack) {
  const auto circle = RowsAfterHead("G03 I10\n");
  EXPECT_EQ(circle.back().p_SQ, Eigen::Vector3d(0, 0, 50));
  EXPECT_NEAR((circle[circle.size() / 2 - 1].p_SQ - Eigen::Vector3d(20, 0, 50)).norm(), 0, 1e-9);
  const auto helix = RowsAfterHead("G91 G03 Z-4 I10\n");
  EXPECT_EQ(helix.back().p_SQ, Eigen::Vector3d(0, 0, 46));
  EXPECT_NEAR((helix[helix.size() / 2 - 1].p_SQ - Eigen::Vector3d(20, 0, 48)).norm(), 0, 1e-9);
}

// Oracle: definition of inverse time: F = 4 is a quarter of a minute for the block.
TEST(Iso6983Test, InverseTimeGivesTheTimeOfEachBlock) {
  const auto rows = RowsAfterHead("G93 G01 X30 F4\nX30 F6\nG02 X30 Y0 I10 F2\n");
  EXPECT_EQ(*rows[0].duration_s, 15.0);
  EXPECT_DOUBLE_EQ(rows[0].feed_mm_s, 2.0);
  EXPECT_EQ(*rows[1].duration_s, 10.0);
  EXPECT_GT(rows[1].feed_mm_s, 0.0);
  double time_s = 0, way_mm = 0;
  for (std::size_t i = 2; i < rows.size(); ++i) {
    time_s += *rows[i].duration_s;
    way_mm += *rows[i].duration_s * rows[i].feed_mm_s;
  }
  EXPECT_NEAR(time_s, 30.0, 1e-9);
  // 720 chords of half a degree: shorter than the circle by (0.25 deg)^2 / 6.
  EXPECT_NEAR(way_mm, 20 * kPi * (1 - std::pow(0.25 * kPi / 180, 2) / 6), 1e-7);
  ExpectFaultAfterHead("G93 G01 X1", "F is missing: under G93");
  ExpectFault(kHead + "G93 G01 X1 F4\nX2\n", "6", "F is missing: under G93");
  EXPECT_NO_THROW(RowsAfterHead("G93 G00 X1\n"));
}

// Oracle: definition: 0.05 mm a turn at 12000 turns a minute is 10 mm/s.
TEST(Iso6983Test, FeedPerTurnFollowsTheSpindle) {
  EXPECT_DOUBLE_EQ(RowsAfterHead("G95 G01 X1 F.05\n")[0].feed_mm_s, 10.0);
  EXPECT_DOUBLE_EQ(RowsAfterHead("G95 F.05\nS6000\nG01 X1\n")[0].feed_mm_s, 5.0);
  EXPECT_DOUBLE_EQ(RowsAfterHead("M04 S12000\nG95 G01 X1 F.05\n")[0].feed_mm_s, 10.0);
  ExpectFault(kHead + "M05\nG95 G01 X1 F.05\n", "6", "needs a turning spindle");
}

TEST(Iso6983Test, IncrementalArcsAndInchRadii) {
  const auto turn = RowsAfterHead("G91 G03 X-10 Y10 I-10\nG02 X10 Y-10 R10\n");
  EXPECT_EQ(turn.back().p_SQ, Eigen::Vector3d(0, 0, 50));
  EXPECT_EQ(turn[turn.size() / 2 - 1].p_SQ, Eigen::Vector3d(-10, 10, 50));
  const auto inch = RowsAfterHead("G20\nG02 X2 Y0 R1 F1\n");
  EXPECT_NEAR((inch[inch.size() / 2 - 1].p_SQ - Eigen::Vector3d(25.4, 25.4, 50)).norm(), 0, 1e-9);
}

TEST(Iso6983Test, SpeedOfZeroStopsTheSpindleWithoutASign) {
  const auto rows = RowsAfterHead("M04 S100\nS0\nG00 X1\n");
  EXPECT_EQ(rows[0].spindle_rpm, 0);
  EXPECT_FALSE(std::signbit(rows[0].spindle_rpm));
}

TEST(Iso6983Test, PathFileKnowsTheFormat) {
  const test::TempFolder folder;
  std::vector<int> lines;
  ReadPathFile("iso6983", folder.Write("path.nc", kHead + kEnd), {},
               {[&](const PoseRow& row) { lines.push_back(row.line); }, [](const PathEvent&) {}});
  EXPECT_THAT(lines, testing::ElementsAre(4));
}

TEST(Iso6983Test, ClosingPercentEndsTheProgramOnce) {
  for (const std::string end : {"%\n", "M30\n%\n"}) {
    const Path path = Read("%\n" + kHead + end);
    EXPECT_EQ(path.events.back().kind, PathEventKind::kEnd);
    EXPECT_EQ(path.events.back().line, 6);
    EXPECT_EQ(path.events.size(), 3u) << "cutter, spindle, end";
  }
}

TEST(Iso6983Test, SpindleToolAndStopsAreFollowed) {
  const Path path = Read(kHead +
                         "S6000\nG1 X1\nM04 S5000\nX2\nT2\nX3\nM06\nG0 X3 Y0 Z50\nM0\nM01\nM07\nG04 X.5\nM02\n");
  const double rpm[] = {12000, 6000, -5000, -5000, 0};
  const int tool[] = {1, 1, 1, 1, 2};
  ASSERT_EQ(path.rows.size(), 5u);
  for (std::size_t i = 0; i < 5; ++i) {
    EXPECT_EQ(path.rows[i].spindle_rpm, rpm[i]) << i;
    EXPECT_EQ(path.rows[i].tool, tool[i]) << i;
  }
  std::vector<std::pair<PathEventKind, double>> told;
  for (const PathEvent& event : path.events) told.emplace_back(event.kind, event.value);
  using K = PathEventKind;
  EXPECT_THAT(told, testing::ElementsAre(std::pair(K::kTool, 1.0), std::pair(K::kSpindle, 12000.0),
                                         std::pair(K::kSpindle, 6000.0), std::pair(K::kSpindle, -5000.0),
                                         std::pair(K::kTool, 2.0), std::pair(K::kStop, 0.0),
                                         std::pair(K::kOptionalStop, 0.0), std::pair(K::kCoolant, 1.0),
                                         std::pair(K::kDwell, 0.5), std::pair(K::kEnd, 0.0)));
  EXPECT_EQ(path.events[4].before, 4);
}

}  // namespace
}  // namespace aircut::sim
