#include "sim/iso6983_writer.h"

#include <cmath>
#include <fstream>
#include <random>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/iso6983.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Axis = IsoWriterOptions::Axis;
using kinematics::MoveKind;
using testing::HasSubstr;
using testing::ThrowsMessage;

struct Path {
  std::vector<PoseRow> rows;
  std::vector<PathEvent> events;
};

std::string Written(const Path& path, const IsoWriterOptions& options) {
  std::ostringstream out;
  WriteIso6983(path.rows, path.events, options, out);
  return out.str();
}

Path ReadBack(const std::string& text, const IsoWriterOptions& options) {
  PathRules rules;
  rules.length_offsets_mm = options.length_offsets_mm;
  if (options.axis == Axis::kVector) rules.rotary = RotaryRule{RotaryRule::Turns::kTool, ""};
  if (options.axis == Axis::kWhole) rules.rotary = RotaryRule{RotaryRule::Turns::kTool, "CBA"};
  if (options.axis == Axis::kTurns) rules.rotary = RotaryRule{RotaryRule::Turns::kTool, "CA"};
  const test::TempFolder folder;
  Path path;
  ReadIso6983(folder.Write("path.nc", text), rules,
              {[&](const PoseRow& row) { path.rows.push_back(row); },
               [&](const PathEvent& event) { path.events.push_back(event); }});
  return path;
}

// Oracle: the words of the format, written out by hand.
TEST(Iso6983WriterTest, ShortPathIsWrittenWordForWord) {
  Path path;
  PoseRow row;
  row.tool = 3;
  row.move = MoveKind::kRapid;
  row.p_SQ = {0.1, -20, 30};
  row.axis_S = {0.6, 0, 0.8};
  path.rows.push_back(row);
  row.move = MoveKind::kCut;
  row.spindle_rpm = -9000;
  row.feed_mm_s = 10;
  row.p_SQ = {0, 1e-7, 123456.789};
  row.length_offset_mm = 85.5;
  path.rows.push_back(row);
  row.p_SQ.x() = 4;
  path.rows.push_back(row);
  row.duration_s = 15;
  path.rows.push_back(row);
  PathEvent stop;
  stop.before = 1;
  path.events.push_back(stop);
  IsoWriterOptions options{Axis::kVector, {{2, 85.5}}};
  EXPECT_EQ(Written(path, options),
            "%\nG21 G90 G17 G40 G49 G94\nT3 M06\nG00 X0.1 Y-20 Z30 I0.6 J0 K0.8\nM00\nS9000 M04\n"
            "G43 H2 G01 X0 Y0.0000001 Z123456.789 I0.6 J0 K0.8 F600\n"
            "G01 X4 Y0.0000001 Z123456.789 I0.6 J0 K0.8\n"
            "G01 X4 Y0.0000001 Z123456.789 I0.6 J0 K0.8 G93 F4\nM30\n%\n");
}

// A random path as the reader would hand it on, spindle and tool words included.
Path RandomPath(std::mt19937_64& rng, Axis axis) {
  std::uniform_real_distribution<double> coord_mm(-2000, 2000), unit(-1, 1), feed_mm_s(0.01, 200), rpm(1, 30000);
  std::uniform_int_distribution<int> die(0, 9);
  Path path;
  PoseRow row;
  row.tool = 1;
  const auto tell = [&](PathEventKind kind, double value) {
    PathEvent event;
    event.kind = kind;
    event.value = value;
    event.before = static_cast<int>(path.rows.size());
    path.events.push_back(event);
  };
  tell(PathEventKind::kTool, 1);
  for (int i = 0; i < 200; ++i) {
    bool has_start = i > 0;   // not after a tool change: what has a written time needs a known start
    if (die(rng) == 0) {
      row.spindle_rpm = die(rng) < 2 ? 0.0 : die(rng) < 5 ? -rpm(rng) : rpm(rng);
      tell(PathEventKind::kSpindle, row.spindle_rpm);
    }
    if (die(rng) == 0) {
      row.tool = die(rng);
      row.spindle_rpm = 0;
      has_start = false;
      tell(PathEventKind::kTool, row.tool);
    }
    if (die(rng) == 0) tell(PathEventKind::kDwell, 3 + 3 * unit(rng));
    if (die(rng) == 0) tell(PathEventKind::kCoolant, die(rng) % 2);
    if (die(rng) == 0) tell(die(rng) % 2 == 0 ? PathEventKind::kStop : PathEventKind::kOptionalStop, 0);
    if (die(rng) == 0) row.length_offset_mm = die(rng) < 4 ? std::nullopt : std::optional<double>(die(rng) < 5 ? 80.25 : -12.5);
    row.p_SQ = {coord_mm(rng), coord_mm(rng), coord_mm(rng)};
    if (axis != Axis::kUpright && die(rng) > 0) row.axis_S = Eigen::Vector3d(unit(rng), unit(rng), unit(rng)).normalized();
    row.move = i == 0 || die(rng) < 2 ? MoveKind::kRapid : MoveKind::kCut;
    row.feed_mm_s = row.move == MoveKind::kCut ? feed_mm_s(rng) : 0.0;
    row.duration_s.reset();
    has_start = has_start && row.length_offset_mm == path.rows.back().length_offset_mm;
    if (row.move == MoveKind::kCut && has_start && die(rng) < 4) {
      row.duration_s = (row.p_SQ - path.rows.back().p_SQ).norm() / row.feed_mm_s;
    }
    path.rows.push_back(row);
  }
  tell(PathEventKind::kEnd, 0);
  return path;
}

// Oracle: a path put into words and read again is the same path. Points to the last
// bit; what goes through a division or an angle to the stated bound.
TEST(Iso6983WriterTest, RandomPathsComeBackTheSame) {
  std::mt19937_64 rng(20);
  for (const Axis axis : {Axis::kUpright, Axis::kVector, Axis::kTurns}) {
    const double axis_bound = axis == Axis::kTurns ? 1e-12 : 1e-15;
    const IsoWriterOptions options{axis, {{1, 80.25}, {7, 12.5}}};
    for (int n = 0; n < 20; ++n) {
      const Path path = RandomPath(rng, axis);
      const Path back = ReadBack(Written(path, options), options);
      ASSERT_EQ(back.rows.size(), path.rows.size());
      for (std::size_t i = 0; i < path.rows.size(); ++i) {
        const PoseRow &a = path.rows[i], &b = back.rows[i];
        ASSERT_EQ(a.p_SQ, b.p_SQ) << i;
        ASSERT_LE((a.axis_S - b.axis_S).norm(), axis_bound) << i;
        ASSERT_NEAR(a.feed_mm_s, b.feed_mm_s, 1e-14 * a.feed_mm_s) << i;
        ASSERT_EQ(a.duration_s.has_value(), b.duration_s.has_value()) << i;
        if (a.duration_s) {
          ASSERT_NEAR(*a.duration_s, *b.duration_s, 1e-15 * *a.duration_s) << i;
        }
        ASSERT_EQ(a.spindle_rpm, b.spindle_rpm) << i;
        ASSERT_EQ(a.tool, b.tool) << i;
        ASSERT_EQ(a.length_offset_mm, b.length_offset_mm) << i;
        ASSERT_EQ(a.move, b.move) << i;
      }
      ASSERT_EQ(back.events.size(), path.events.size());
      for (std::size_t i = 0; i < path.events.size(); ++i) {
        ASSERT_EQ(path.events[i].kind, back.events[i].kind) << i;
        ASSERT_EQ(path.events[i].value, back.events[i].value) << i;
        ASSERT_EQ(path.events[i].before, back.events[i].before) << i;
      }
    }
  }
}

// Tool axes at the poles and along each axis, where turning words are delicate.
TEST(Iso6983WriterTest, AxesAtThePolesComeBack) {
  const IsoWriterOptions options{Axis::kTurns, {}};
  Path path;
  PoseRow row;
  row.move = MoveKind::kRapid;
  for (const Eigen::Vector3d& axis :
       {Eigen::Vector3d(0, 0, 1), Eigen::Vector3d(0, 0, -1), Eigen::Vector3d(1, 0, 0), Eigen::Vector3d(-1, 0, 0),
        Eigen::Vector3d(0, 1, 0), Eigen::Vector3d(0, -1, 0), Eigen::Vector3d(1e-9, 0, 1), Eigen::Vector3d(-1e-9, 1e-9, 1),
        Eigen::Vector3d(1e-9, 0, -1)}) {
    row.axis_S = axis.normalized();
    path.rows.push_back(row);
  }
  const Path back = ReadBack(Written(path, options), options);
  for (std::size_t i = 0; i < path.rows.size(); ++i) {
    EXPECT_LE((back.rows[i].axis_S - path.rows[i].axis_S).norm(), 1e-15) << i;
  }
}

// Oracle: by hand. Round the pole in steps of 30 degrees, C goes on past half a
// turn instead of jumping back by a whole one.
TEST(Iso6983WriterTest, TurnAboutTheVerticalDoesNotJump) {
  Path path;
  PoseRow row;
  row.move = MoveKind::kRapid;
  for (int i = 0; i <= 24; ++i) {
    const double c_rad = kinematics::RadFromDeg(30.0 * i);
    row.axis_S = {0.6 * std::sin(c_rad), -0.6 * std::cos(c_rad), 0.8};
    path.rows.push_back(row);
  }
  const std::string text = Written(path, {Axis::kTurns, {}});
  std::vector<double> c_deg;
  for (std::size_t at = text.find('C'); at != std::string::npos; at = text.find('C', at + 1)) {
    c_deg.push_back(std::stod(text.substr(at + 1)));
  }
  ASSERT_EQ(c_deg.size(), 25u);
  for (std::size_t i = 0; i < c_deg.size(); ++i) EXPECT_NEAR(c_deg[i], 30.0 * static_cast<double>(i), 1e-9);
}

PoseRow WholeRow(const Eigen::Matrix3d& R_ST) {
  PoseRow row;
  row.move = MoveKind::kRapid;
  row.R_ST = R_ST;
  row.axis_S = R_ST.col(2);
  return row;
}

// Oracle: the orientations that went in; among them those that lay the tool's x
// along S's z, where C and A turn about one axis, and others a hair beside it.
TEST(Iso6983WriterTest, WholeOrientationsComeBack) {
  std::mt19937_64 rng(5);
  std::normal_distribution<double> part;
  const auto about = [](double rad, const Eigen::Vector3d& axis) {
    return Eigen::AngleAxisd(rad, axis.normalized()).toRotationMatrix();
  };
  Path path;
  for (int i = 0; i < 300; ++i) {
    const double w = part(rng), x = part(rng), y = part(rng), z = part(rng);
    path.rows.push_back(WholeRow(Eigen::Quaterniond(w, x, y, z).normalized().toRotationMatrix()));
  }
  for (const double upset : {0.0, 1e-12, 1e-9, 1e-7, 1e-3}) {
    for (const double sign : {1.0, -1.0}) {
      const Eigen::Matrix3d down = about(sign * (0.5 * kinematics::kPi - upset), Eigen::Vector3d::UnitY());
      path.rows.push_back(WholeRow(down));
      path.rows.push_back(WholeRow(about(0.7, Eigen::Vector3d::UnitZ()) * down * about(2.1, Eigen::Vector3d::UnitX())));
    }
  }
  const IsoWriterOptions options{Axis::kWhole, {}};
  const Path back = ReadBack(Written(path, options), options);
  ASSERT_EQ(back.rows.size(), path.rows.size());
  for (std::size_t i = 0; i < path.rows.size(); ++i) {
    ASSERT_TRUE(back.rows[i].R_ST) << i;
    EXPECT_LE((*back.rows[i].R_ST - *path.rows[i].R_ST).cwiseAbs().maxCoeff(), 1e-12) << i;
    EXPECT_LE((back.rows[i].axis_S - path.rows[i].axis_S).norm(), 1e-12) << i;
  }
}

// Oracle: by hand. The tool leans 20 degrees about its own x, its x looks 30
// degrees to the left of S's x: C30 turns first, A20 last.
TEST(Iso6983WriterTest, WholeOrientationIsWrittenWordForWord) {
  const double c_rad = kinematics::RadFromDeg(30.0), a_rad = kinematics::RadFromDeg(20.0);
  Eigen::Matrix3d R_ST;
  R_ST.col(0) = Eigen::Vector3d(std::cos(c_rad), std::sin(c_rad), 0);
  R_ST.col(2) = Eigen::Vector3d(std::sin(c_rad) * std::sin(a_rad), -std::cos(c_rad) * std::sin(a_rad), std::cos(a_rad));
  R_ST.col(1) = R_ST.col(2).cross(R_ST.col(0).eval());
  const std::string text = Written({{WholeRow(R_ST)}, {}}, {Axis::kWhole, {}});
  const std::size_t c = text.find(" C"), b = text.find(" B"), a = text.find(" A");
  ASSERT_NE(a, std::string::npos);
  EXPECT_NEAR(std::stod(text.substr(c + 2)), 30.0, 1e-12);
  EXPECT_NEAR(std::stod(text.substr(b + 2)), 0.0, 1e-12);
  EXPECT_NEAR(std::stod(text.substr(a + 2)), 20.0, 1e-12);
}

// A turn about the tool's own axis goes on past half a turn.
TEST(Iso6983WriterTest, SpinIsWrittenUnwound) {
  Path path;
  for (int i = 0; i <= 24; ++i) {
    path.rows.push_back(WholeRow(
        Eigen::AngleAxisd(kinematics::RadFromDeg(30.0 * i), Eigen::Vector3d::UnitZ()).toRotationMatrix()));
  }
  const std::string text = Written(path, {Axis::kWhole, {}});
  EXPECT_NEAR(std::stod(text.substr(text.rfind('C') + 1)), 720.0, 1e-9);
}

TEST(Iso6983WriterTest, FeedIsWrittenAnewAfterWrittenTimes) {
  Path path;
  PoseRow row;
  row.feed_mm_s = 5;
  path.rows = {row, row, row, row};
  for (std::size_t i = 1; i < 4; ++i) path.rows[i].p_SQ.x() = 10.0 * static_cast<double>(i);
  path.rows[2].duration_s = 2;
  const Path back = ReadBack(Written(path, {}), {});
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_DOUBLE_EQ(back.rows[i].feed_mm_s, 5) << i;
    EXPECT_EQ(back.rows[i].duration_s.has_value(), i == 2) << i;
  }
}

TEST(Iso6983WriterTest, WhatWordsCannotSayIsRefused) {
  const auto refuse = [](const PoseRow& row, const IsoWriterOptions& options, const std::string& words) {
    EXPECT_THAT([&] { Written({{row}, {}}, options); }, ThrowsMessage<std::invalid_argument>(HasSubstr(words)));
  };
  PoseRow row;
  row.feed_mm_s = 1;
  row.axis_S = Eigen::Vector3d(0.6, 0, 0.8);
  refuse(row, {}, "tilted tool axis");
  row.length_offset_mm = 5;
  refuse(row, {Axis::kVector, {{1, 6}}}, "length offset 5 mm has no H number");
  row.length_offset_mm.reset();
  row.duration_s = 1;
  refuse(row, {Axis::kVector, {}}, "first move of a path");
  row.duration_s.reset();
  row.R_ST = Eigen::Matrix3d::Identity();
  refuse(row, {Axis::kVector, {}}, "rotation about the tool axis");
  row.R_ST.reset();
  row.p_SQ.x() = std::nan("");
  refuse(row, {Axis::kVector, {}}, "finite");
  row.p_SQ.x() = 0;
  PoseRow turned = row;
  turned.axis_S = Eigen::Vector3d::UnitX();
  EXPECT_THAT([&] { Written({{row, turned}, {}}, {Axis::kTurns, {}}); },
              ThrowsMessage<std::invalid_argument>(HasSubstr("degrees a minute")));
  refuse(row, {Axis::kWhole, {}}, "three turning words need the whole orientation");
  row.R_ST = Eigen::Matrix3d::Identity();
  PoseRow spun = row;
  spun.R_ST = Eigen::AngleAxisd(0.1, Eigen::Vector3d::UnitZ()).toRotationMatrix();
  EXPECT_THAT([&] { Written({{row, spun}, {}}, {Axis::kWhole, {}}); },
              ThrowsMessage<std::invalid_argument>(HasSubstr("degrees a minute")));
}

}  // namespace
}  // namespace aircut::sim
