#include "sim/path_assembly.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/outline_shapes.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;
using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr double kTight = 1e-12;

Cell CellWithTwoCutters() {
  Cell cell;
  CellCutter ball;
  ball.cutter = Cutter::Ball(6, 20);
  ball.stick_out_mm = 40;
  ball.control_height_mm = 3;
  cell.cutters.emplace(1, ball);
  CellCutter flat;
  flat.cutter = Cutter::Of(FlatOutline({8, 20}));
  cell.cutters.emplace(2, flat);
  return cell;
}

PoseRow Row(int line, const Eigen::Vector3d& p, const Eigen::Vector3d& axis) {
  PoseRow row;
  row.line = line;
  row.p_SQ = p;
  row.axis_S = axis;
  row.feed_mm_s = 5;
  row.tool = 1;
  return row;
}

PathEvent Event(PathEventKind kind, int line, double value) {
  PathEvent event;
  event.kind = kind;
  event.line = line;
  event.value = value;
  event.before = 77;   // what a reader counted is not asked
  return event;
}

// Oracle: by hand. The ball's centre is 3 mm above its tip end.
TEST(PathAssemblyTest, ControlPointBecomesTipEndInTheWorkpiece) {
  const Cell cell = CellWithTwoCutters();
  const Pose X_SP = kinematics::MakePose(
      Eigen::AngleAxisd(kinematics::RadFromDeg(90), Eigen::Vector3d::UnitZ()).toRotationMatrix(), {100, 0, 5});
  PathAssembly assembly(cell, X_SP, "a.nc");
  PoseRow row = Row(7, {10, 20, 30}, {0.6, 0, 0.8});
  row.R_ST = Eigen::Matrix3d::Identity();
  row.duration_s = 2.5;
  row.spindle_rpm = -9000;
  assembly.Add(row);
  const kinematics::ToolPath path = assembly.TakePath();
  ASSERT_EQ(path.size(), 1u);
  EXPECT_EQ(path[0].line, 7);
  EXPECT_NEAR((path[0].axis_S - Eigen::Vector3d(0, 0.6, 0.8)).norm(), 0, kTight);
  EXPECT_NEAR((path[0].p_ST - Eigen::Vector3d(100 - 20, 10 - 1.8, 35 - 2.4)).norm(), 0, kTight);
  EXPECT_NEAR((path[0].R_ST->col(0) - Eigen::Vector3d::UnitY()).norm(), 0, kTight);
  EXPECT_EQ(path[0].duration_s, 2.5);
  EXPECT_EQ(path[0].spindle_rpm, -9000);
  EXPECT_EQ(path[0].tool, 1);
  EXPECT_EQ(path[0].feed_mm_s, 5);
}

// Oracle: by hand. The ball turns about its centre from upright to level in 0.5 s:
// its tip end, 3 mm below, moves from (0, 0, -3) to (-3, 0, 0), 3 sqrt(2) mm, while
// the control point has no feed of its own.
TEST(PathAssemblyTest, TipThatSwingsAboutItsControlPointHasTheFeedOfTheWrittenTime) {
  const Cell cell = CellWithTwoCutters();
  PathAssembly assembly(cell, Pose::Identity(), "a.nc");
  assembly.Add(Row(1, {0, 0, 0}, {0, 0, 1}));
  PoseRow turn = Row(2, {0, 0, 0}, {1, 0, 0});
  turn.duration_s = 0.5;
  turn.feed_mm_s = 1.0;   // stands in for none
  assembly.Add(turn);
  assembly.Add(turn);     // and there it stays
  const kinematics::ToolPath path = assembly.TakePath();
  EXPECT_NEAR(path[1].feed_mm_s, 6.0 * std::sqrt(2.0), kTight);
  EXPECT_EQ(path[0].feed_mm_s, 5.0);
  EXPECT_EQ(path[2].feed_mm_s, 1.0);
}

// Oracle: the controller puts the collet nut 42 mm above the point; a cutter that
// sticks out 40 mm ends 2 mm above it, whatever its control point is.
TEST(PathAssemblyTest, LengthOffsetInForceHoldsTheColletNut) {
  const Cell cell = CellWithTwoCutters();
  PathAssembly assembly(cell, Pose::Identity(), "a.nc");
  PoseRow row = Row(1, {1, 2, 3}, {0, 0, 1});
  row.length_offset_mm = 42;
  assembly.Add(row);
  EXPECT_NEAR((assembly.TakePath()[0].p_ST - Eigen::Vector3d(1, 2, 5)).norm(), 0, kTight);
}

// Oracle: file order. A dwell makes the row before it wait; two add up.
TEST(PathAssemblyTest, EventsStandBeforeTheRowThatFollowsAndDwellsWait) {
  const Cell cell = CellWithTwoCutters();
  PathAssembly assembly(cell, Pose::Identity(), "a.nc");
  assembly.Add(Event(PathEventKind::kDwell, 1, 9.0));
  assembly.Add(Row(2, {0, 0, 0}, {0, 0, 1}));
  assembly.Add(Event(PathEventKind::kDwell, 3, 0.5));
  assembly.Add(Event(PathEventKind::kDwell, 4, 0.25));
  assembly.Add(Row(5, {1, 0, 0}, {0, 0, 1}));
  assembly.Add(Event(PathEventKind::kEnd, 6, 0));
  const kinematics::ToolPath path = assembly.TakePath();
  EXPECT_EQ(path[0].dwell_s, 0.75);
  EXPECT_EQ(path[1].dwell_s, 0.0);
  const std::vector<PathEvent> events = assembly.TakeEvents();
  ASSERT_EQ(events.size(), 4u);
  EXPECT_EQ(events[0].before, 0);
  EXPECT_EQ(events[1].before, 1);
  EXPECT_EQ(events[2].line, 4);
  EXPECT_EQ(events[3].before, 2);
}

TEST(PathAssemblyTest, CuttersThatAreNotToBeHadNameTheLine) {
  const Cell cell = CellWithTwoCutters();
  PathAssembly assembly(cell, Pose::Identity(), "a.nc");
  PoseRow row = Row(8, {0, 0, 0}, {0, 0, 1});
  row.tool = 3;
  EXPECT_THAT([&] { assembly.Add(row); },
              ThrowsMessage<InputError>(HasSubstr("a.nc:8: tool = 3 must be a cutter of the cell (1, 2)")));
  EXPECT_THAT([&] { assembly.Add(Event(PathEventKind::kTool, 9, 3)); },
              ThrowsMessage<InputError>(HasSubstr("a.nc:9: tool = 3 must be a cutter of the cell (1, 2)")));
  EXPECT_NO_THROW(assembly.Add(Event(PathEventKind::kTool, 9, 2)));   // put in, but never used
}

}  // namespace
}  // namespace aircut::sim
