// Paths through the writers and readers of the formats.
#include <cmath>
#include <random>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/cutter_location_writer.h"
#include "sim/iso6983_writer.h"
#include "sim/path_file.h"
#include "sim/pose_table_writer.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::MoveKind;
using Kind = PathEventKind;

PathProgram ReadBack(const std::string& format, const std::string& text) {
  const test::TempFolder folder;
  PathRules rules;
  rules.second_vector = SecondVector::kToolX;
  if (format == "iso6983") rules.rotary = RotaryRule{RotaryRule::Turns::kTool, ""};
  return ReadPathProgram(format, folder.Write("path", text), rules);
}

PathEvent Event(Kind kind, int before, double value) {
  PathEvent event;
  event.kind = kind;
  event.before = before;
  event.value = value;
  return event;
}

Vector3d UnitVector(std::mt19937_64& rng) {
  std::normal_distribution<double> coordinate;
  const double x = coordinate(rng), y = coordinate(rng), z = coordinate(rng);
  Vector3d axis = Vector3d(x, y, z).normalized();
  return axis;
}

enum class Axes { kUpright, kAny };

// A path that every format can say: feeds come from whole steps of 0.1 mm/min.
PathProgram RandomPath(std::uint64_t seed, Axes axes) {
  std::mt19937_64 rng(seed);
  std::uniform_real_distribution<double> coordinate(-500, 500);
  std::uniform_int_distribution<int> dice(0, 9), feed(1, 100'000), speed(-24'000, 24'000);
  PathProgram program;
  int tool = 1;
  double spindle_rpm = 12'000;
  program.events = {Event(Kind::kTool, 0, tool), Event(Kind::kSpindle, 0, spindle_rpm)};
  for (int i = 0; i < 300; ++i) {
    if (i > 0 && dice(rng) == 0) program.events.push_back(Event(Kind::kTool, i, tool += 1));
    if (i > 0 && dice(rng) == 0) program.events.push_back(Event(Kind::kSpindle, i, spindle_rpm = 0.5 + speed(rng)));
    PoseRow row;
    const double x = coordinate(rng), y = coordinate(rng), z = coordinate(rng);
    row.p_SQ = {x, y, z};
    if (axes == Axes::kAny) row.axis_S = UnitVector(rng);
    row.move = dice(rng) < 3 ? MoveKind::kRapid : MoveKind::kCut;
    if (row.move == MoveKind::kCut) row.feed_mm_s = kinematics::MmPerSecFromMmPerMin(0.1 * feed(rng));
    row.tool = tool;
    row.spindle_rpm = spindle_rpm;
    program.rows.push_back(row);
    if (dice(rng) == 0) program.events.push_back(Event(Kind::kDwell, i + 1, 0.1 * (1 + dice(rng))));
  }
  return program;
}

void ExpectSameRows(const PathProgram& got, const PathProgram& meant) {
  ASSERT_EQ(got.rows.size(), meant.rows.size());
  for (std::size_t i = 0; i < meant.rows.size(); ++i) {
    const PoseRow &a = got.rows[i], &b = meant.rows[i];
    ASSERT_EQ(a.p_SQ, b.p_SQ) << i;
    ASSERT_EQ(a.axis_S, b.axis_S) << i;
    ASSERT_EQ(a.R_ST.has_value(), b.R_ST.has_value()) << i;
    ASSERT_EQ(a.move, b.move) << i;
    ASSERT_EQ(a.feed_mm_s, b.feed_mm_s) << i;
    ASSERT_EQ(a.duration_s.has_value(), b.duration_s.has_value()) << i;
    ASSERT_EQ(a.spindle_rpm, b.spindle_rpm) << i;
    ASSERT_EQ(a.tool, b.tool) << i;
    ASSERT_EQ(a.length_offset_mm, b.length_offset_mm) << i;
  }
}

// A last kEnd counts only where `meant` has one: not every format can leave it out.
void ExpectSameEvents(PathProgram got, const PathProgram& meant) {
  const bool has_end = !meant.events.empty() && meant.events.back().kind == Kind::kEnd;
  if (!has_end && !got.events.empty() && got.events.back().kind == Kind::kEnd) got.events.pop_back();
  ASSERT_EQ(got.events.size(), meant.events.size());
  for (std::size_t i = 0; i < meant.events.size(); ++i) {
    ASSERT_EQ(got.events[i].kind, meant.events[i].kind) << i;
    ASSERT_EQ(got.events[i].before, meant.events[i].before) << i;
    ASSERT_EQ(got.events[i].value, meant.events[i].value) << i;
    for (std::size_t k = 0; k < 7; ++k) {
      ASSERT_NEAR(got.events[i].shape[k], meant.events[i].shape[k], 4e-16) << i;
    }
  }
}

// Oracle: what was written. Shortest digits must bring back every bit.
TEST(PathFormatsTest, PathsReadBackAsTheyWereWritten) {
  for (const Axes axes : {Axes::kUpright, Axes::kAny}) {
    for (std::uint64_t seed = 1; seed <= 10; ++seed) {
      SCOPED_TRACE(seed);
      const PathProgram program = RandomPath(seed, axes);
      for (const auto& [format, text] : {std::pair<std::string, std::string>{"pose_table", PoseTableText(program)},
                                         {"cutter_location", CutterLocationText(program)}}) {
        SCOPED_TRACE(format);
        const PathProgram back = ReadBack(format, text);
        ExpectSameRows(back, program);
        ExpectSameEvents(back, program);
      }
    }
  }
}

std::string Iso6983Text(const PathProgram& program) {
  IsoWriterOptions options;
  options.axis = IsoWriterOptions::Axis::kVector;
  std::ostringstream out;
  WriteIso6983(program.rows, program.events, options, out);
  return out.str();
}

// Oracle: each format by its own writer and reader must say the same path. Feeds
// and axes pass through other factors here, so their last two bits may differ.
TEST(PathFormatsTest, ThreeFormatsGiveTheSameRows) {
  for (const Axes axes : {Axes::kUpright, Axes::kAny}) {
    for (std::uint64_t seed = 21; seed <= 25; ++seed) {
      SCOPED_TRACE(seed);
      const PathProgram program = RandomPath(seed, axes);
      const PathProgram table = ReadBack("pose_table", PoseTableText(program));
      const PathProgram statements = ReadBack("cutter_location", CutterLocationText(program));
      const PathProgram words = ReadBack("iso6983", Iso6983Text(program));
      ASSERT_EQ(words.rows.size(), table.rows.size());
      ASSERT_EQ(statements.rows.size(), table.rows.size());
      for (std::size_t i = 0; i < table.rows.size(); ++i) {
        for (const PoseRow* row : {&statements.rows[i], &words.rows[i]}) {
          ASSERT_EQ(row->p_SQ, table.rows[i].p_SQ) << i;
          ASSERT_LE((row->axis_S - table.rows[i].axis_S).norm(), 4e-16) << i;
          ASSERT_EQ(row->move, table.rows[i].move) << i;
          if (row->move == MoveKind::kCut) {
            ASSERT_NEAR(row->feed_mm_s, table.rows[i].feed_mm_s, 4e-16 * table.rows[i].feed_mm_s) << i;
          }
          ASSERT_EQ(row->spindle_rpm, table.rows[i].spindle_rpm) << i;
          ASSERT_EQ(row->tool, table.rows[i].tool) << i;
          ASSERT_EQ(row->duration_s.has_value(), false) << i;
        }
      }
    }
  }
}

// Oracle: the scene's purpose: every pose on the same line of the three files.
TEST(PathFormatsTest, RingSceneIsOnePathInThreeFormats) {
  const std::filesystem::path folder = std::filesystem::path(AIRCUT_SCENES) / "ring";
  const PathProgram table = ReadPathProgram("pose_table", folder / "ring.csv", {});
  const PathProgram statements = ReadPathProgram("cutter_location", folder / "ring.cl", {});
  const PathProgram words = ReadPathProgram("iso6983", folder / "ring.iso", {});
  EXPECT_EQ(table.rows.size(), 568u);   // 2 passes of 3 + 40 + 240 + 1 poses
  for (const PathProgram* other : {&statements, &words}) {
    ExpectSameRows(*other, table);
    for (std::size_t i = 0; i < table.rows.size(); ++i) {
      ASSERT_EQ(other->rows[i].line, table.rows[i].line) << i;
    }
  }
}

// Oracle: ends of chords lie on their circle, here the ring of 15 mm radius.
TEST(PathFormatsTest, RingOfArcsLiesOnTheRing) {
  const auto file = std::filesystem::path(AIRCUT_SCENES) / "ring" / "ring_arcs.iso";
  const PathProgram arcs = ReadPathProgram("iso6983", file, {});
  ASSERT_GT(arcs.rows.size(), 100u);
  double lowest_mm = 0;
  for (const PoseRow& row : arcs.rows) {
    // The ends are written with four decimals.
    EXPECT_NEAR(row.p_SQ.head<2>().norm(), 15.0, 1e-4) << row.line;
    lowest_mm = std::min(lowest_mm, row.p_SQ.z());
  }
  EXPECT_EQ(lowest_mm, -1.0);
}

TEST(PathFormatsTest, WholeOrientationsReadBackThroughAPoseTable) {
  std::mt19937_64 rng(3);
  PathProgram program = RandomPath(11, Axes::kUpright);
  std::normal_distribution<double> coordinate;
  for (PoseRow& row : program.rows) {
    const double w = coordinate(rng), x = coordinate(rng), y = coordinate(rng), z = coordinate(rng);
    row.R_ST = Eigen::Quaterniond(w, x, y, z).normalized().toRotationMatrix();
    row.axis_S = row.R_ST->col(2);
  }
  const PathProgram back = ReadBack("pose_table", PoseTableText(program));
  ASSERT_EQ(back.rows.size(), program.rows.size());
  for (std::size_t i = 0; i < back.rows.size(); ++i) {
    // A dozen roundings of numbers up to 1.
    ASSERT_LE((*back.rows[i].R_ST - *program.rows[i].R_ST).cwiseAbs().maxCoeff(), 4e-15) << i;
    ASSERT_EQ(back.rows[i].axis_S, back.rows[i].R_ST->col(2)) << i;
  }
}

// The events that only statements can say.
TEST(PathFormatsTest, OrdersReadBackThroughStatements) {
  PathProgram program = RandomPath(5, Axes::kAny);
  program.rows.resize(2);
  program.rows[1].move = MoveKind::kCut;
  program.rows[1].duration_s = 2.5;
  program.rows[1].feed_mm_s = (program.rows[1].p_SQ - program.rows[0].p_SQ).norm() / 2.5;
  program.rows[0].tool = program.rows[1].tool = 4;
  program.rows[0].spindle_rpm = 100;
  program.rows[1].spindle_rpm = -200;
  PathEvent shape = Event(Kind::kCutterShape, 0, 0);
  shape.shape = {12, 0.5, 1, 0.75, 0.3, -0.7, 40};
  program.events = {Event(Kind::kTool, 0, 4),      Event(Kind::kToolLength, 0, 61.25), shape,
                    Event(Kind::kSpindle, 0, 100), Event(Kind::kCoolant, 0, 1),        Event(Kind::kStop, 1, 0),
                    Event(Kind::kSpindle, 1, 0),   Event(Kind::kSpindle, 1, -200),     Event(Kind::kOptionalStop, 1, 0),
                    Event(Kind::kDwell, 2, 0.0),   Event(Kind::kCoolant, 2, 0),        Event(Kind::kSpindle, 2, 0),
                    Event(Kind::kEnd, 2, 0)};
  const PathProgram back = ReadBack("cutter_location", CutterLocationText(program));
  ExpectSameRows(back, program);
  ExpectSameEvents(back, program);
  EXPECT_EQ(back.rows[1].duration_s, program.rows[1].duration_s);
}

// Feeds that no decimal number of mm/min gives exactly come back within one bit.
TEST(PathFormatsTest, AnyFeedReadsBackWithinItsLastBit) {
  std::mt19937_64 rng(9);
  std::uniform_real_distribution<double> exponent(-3, 3);
  PathProgram program = RandomPath(12, Axes::kUpright);
  for (PoseRow& row : program.rows) {
    row.move = MoveKind::kCut;
    row.feed_mm_s = std::pow(10.0, exponent(rng));
  }
  const PathProgram back = ReadBack("cutter_location", CutterLocationText(program));
  for (std::size_t i = 0; i < back.rows.size(); ++i) {
    const double meant = program.rows[i].feed_mm_s, got = back.rows[i].feed_mm_s;
    ASSERT_TRUE(got == meant || got == std::nextafter(meant, got)) << i;
  }
}

// Oracle: the statements, written out by hand; what holds is not said again.
TEST(PathFormatsTest, ShortPathIsWrittenStatementForStatement) {
  PathProgram program = RandomPath(1, Axes::kUpright);
  program.rows.resize(3);
  for (PoseRow& row : program.rows) {
    row.p_SQ = {0.1, -20, 3};
    row.move = MoveKind::kCut;
    row.feed_mm_s = 10;
    row.tool = 2;
    row.spindle_rpm = -9000;
  }
  program.rows[0].move = MoveKind::kRapid;
  program.events = {Event(Kind::kTool, 0, 2), Event(Kind::kSpindle, 0, -9000), Event(Kind::kDwell, 1, 0.5)};
  EXPECT_EQ(CutterLocationText(program),
            "$$ lengths in mm, tool axis from tip to spindle\nUNITS/MM\nLOADTL/2\nSPINDL/9000,RPM,CCLW\n"
            "RAPID\nGOTO/0.1,-20,3\nDELAY/0.5\nFEDRAT/600,MMPM\nGOTO/0.1,-20,3\nGOTO/0.1,-20,3\nFINI\n");
}

TEST(PathFormatsTest, WhatAPoseTableCannotSayIsRefused) {
  const auto expect_refused = [](const std::function<void(PathProgram&)>& change) {
    PathProgram program = RandomPath(1, Axes::kUpright);
    change(program);
    EXPECT_THROW(PoseTableText(program), std::invalid_argument);
  };
  expect_refused([](PathProgram& p) { p.rows.clear(), p.events.clear(); });
  expect_refused([](PathProgram& p) { p.rows[3].duration_s = 1.0; });
  expect_refused([](PathProgram& p) { p.rows[3].length_offset_mm = 1.0; });
  expect_refused([](PathProgram& p) { p.rows[3].R_ST = Eigen::Matrix3d::Identity(); });
  expect_refused([](PathProgram& p) { p.events.push_back(Event(Kind::kStop, 300, 0)); });
  expect_refused([](PathProgram& p) { p.events.push_back(Event(Kind::kSpindle, 300, 0)); });
  expect_refused([](PathProgram& p) { p.events.erase(p.events.begin()); });
  expect_refused([](PathProgram& p) { p.events.insert(p.events.begin(), Event(Kind::kDwell, 0, 1)); });
}

TEST(PathFormatsTest, WhatStatementsCannotSayIsRefused) {
  const auto expect_refused = [](const std::function<void(PathProgram&)>& change) {
    PathProgram program = RandomPath(1, Axes::kAny);
    change(program);
    EXPECT_THROW(CutterLocationText(program), std::invalid_argument);
  };
  expect_refused([](PathProgram& p) { p.rows[3].R_ST = Eigen::Matrix3d::Identity(); });
  expect_refused([](PathProgram& p) { p.rows[3].length_offset_mm = 1.0; });
  expect_refused([](PathProgram& p) { p.rows[0].move = MoveKind::kCut, p.rows[0].duration_s = 1.0; });
  expect_refused([](PathProgram& p) { p.rows[3].tool = 77; });
  expect_refused([](PathProgram& p) { p.rows[3].spindle_rpm = 77; });
  expect_refused([](PathProgram& p) { p.events.erase(p.events.begin()); });
  expect_refused([](PathProgram& p) { p.events.insert(p.events.begin() + 2, Event(Kind::kToolLength, 0, 50)); });
  expect_refused([](PathProgram& p) { p.events.insert(p.events.begin(), Event(Kind::kEnd, 0, 0)); });
  expect_refused([](PathProgram& p) { std::swap(p.events.front(), p.events.back()); });
}

}  // namespace
}  // namespace aircut::sim
