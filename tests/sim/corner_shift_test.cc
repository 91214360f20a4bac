// Oracle: a corner that turns by t, rounded from a distance d on by an arc that touches both
// legs, is passed d tan(t / 4) away (closed form); cut as an arc the floor stands that much higher.

#include "sim/corner_shift.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/dry_run.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kDistance_mm = 0.5;   // of the tiny cell
constexpr double kNumerical_mm = 2e-5;   // joints are commanded, not places; shifts are kept in float

// Down to the face, then three points joined by straight cuts, then up.
std::string PathOver(const std::vector<Vector3d>& points) {
  std::string text = "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,move\n";
  const auto row = [&text](const Vector3d& p, const char* rest) {
    text += std::to_string(p.x()) + "," + std::to_string(p.y()) + "," + std::to_string(p.z()) + ",0,0,1," + rest + "\n";
  };
  row(points.front() + Vector3d(0, 0, 40), "0,12000,rapid");
  row(points.front() + Vector3d(0, 0, 3), "0,12000,rapid");
  for (const Vector3d& p : points) row(p, "300,12000,cut");
  row(points.back() + Vector3d(0, 0, 40), "0,12000,rapid");
  return text;
}

Run RunOver(const std::vector<Vector3d>& points, const std::set<ErrorLayer>& without = {}) {
  test::TinyJob tiny;
  tiny.files["groove.csv"] = PathOver(points);
  const test::TempFolder folder;
  RunOptions options;
  options.resolution_mm = 0.5;
  options.without = without;
  Run run = Execute(LoadJob(tiny.WriteTo(folder), {}), options);
  EXPECT_TRUE(run.executed);
  return run;
}

// The largest shift of sweeps that end near a place.
Vector3d LargestNear(const Run& run, const Vector3d& p_S) {
  Vector3d largest = Vector3d::Zero();
  if (!run.execution.corner_rounding) return largest;
  for (std::size_t s = 0; s < run.track.sweeps.size(); ++s) {
    const Vector3d d = run.execution.corner_rounding->of_sweep[s][kNominal].cast<double>();
    if ((run.track.p_ST[s + 1] - p_S).norm() < 2.0 && d.norm() > largest.norm()) largest = d;
  }
  return largest;
}

double DepthAt(const Run& run, const Vector3d& p_S) {
  double nearest_mm = 1e9, top_mm = 0.0;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const double away_mm = (run.samples[i].ray.p_SQ - p_S).head<2>().norm();
    if (run.samples[i].role != DesignSample::Role::kCarve || away_mm >= nearest_mm) continue;
    nearest_mm = away_mm;
    top_mm = run.depths[i].top_mm;
  }
  EXPECT_LT(nearest_mm, 0.75);
  return top_mm;
}

const Vector3d kCorner(30, 20, 17);

TEST(CornerShiftTest, ValleyIsLeftStandingByItsDeviation) {
  const double turn_rad = 2 * std::atan2(2.0, 12.0);
  const sim::Run run = RunOver({{18, 20, 19}, kCorner, {42, 20, 19}});
  const double deviation_mm = kDistance_mm * std::tan(turn_rad / 4);
  EXPECT_NEAR((LargestNear(run, kCorner) - Vector3d(0, 0, deviation_mm)).norm(), 0.0, kNumerical_mm);
}

TEST(CornerShiftTest, RidgeIsCutDownByItsDeviation) {
  const double turn_rad = 2 * std::atan2(2.0, 12.0);
  const Vector3d ridge(30, 20, 19);
  const sim::Run run = RunOver({{18, 20, 17}, ridge, {42, 20, 17}});
  EXPECT_NEAR(LargestNear(run, ridge).z(), -kDistance_mm * std::tan(turn_rad / 4), kNumerical_mm);
}

// A corner that turns by 90 degrees within the face moves nothing along the depth.
TEST(CornerShiftTest, CornerWithinTheFaceHasNoShareOfDepth) {
  const Vector3d corner(30, 20, 19);
  const sim::Run run = RunOver({{18, 20, 19}, corner, {30, 32, 19}});
  const Vector3d shift = LargestNear(run, corner);
  const double deviation_mm = kDistance_mm * std::tan(std::acos(-1.0) / 8);
  EXPECT_NEAR((shift - deviation_mm * Vector3d(-1, 1, 0).normalized()).norm(), 0.0, kNumerical_mm);
}

// A slope that levels out: the bisector leans by half the turn, and so does the shift.
TEST(CornerShiftTest, ShareAlongTheDepthIsThatOfTheBisector) {
  const double turn_rad = std::atan2(2.0, 12.0);
  const sim::Run run = RunOver({{18, 20, 19}, kCorner, {42, 20, 17}});
  EXPECT_NEAR(LargestNear(run, kCorner).z(), kDistance_mm * std::tan(turn_rad / 4) * std::cos(turn_rad / 2), kNumerical_mm);
}

TEST(CornerShiftTest, ExactStopLeavesNoCorner) {
  const sim::Run run = RunOver({{18, 20, 19}, kCorner, {42, 20, 19}}, {ErrorLayer::kCornerRounding});
  EXPECT_FALSE(run.execution.corner_rounding.has_value());
}

// The cut itself: a ball in the valley stands as much higher as the arc does, seen from the
// sample that lies next to the corner, up to the ridge that its own roundness leaves there.
TEST(CornerShiftTest, CutIsHigherByTheShift) {
  const std::vector<Vector3d> valley = {{18, 20, 19}, kCorner, {42, 20, 19}};
  const sim::Run rounded = RunOver(valley), sharp = RunOver(valley, {ErrorLayer::kCornerRounding});
  const double shift_mm = LargestNear(rounded, kCorner).z();
  const double higher_mm = DepthAt(rounded, kCorner) - DepthAt(sharp, kCorner);
  EXPECT_GT(higher_mm, 0.0);
  EXPECT_LE(higher_mm, shift_mm + kNumerical_mm);
  ASSERT_EQ(rounded.execution.recuts.size(), 1u);   // largest layer, held against a cut without it
  EXPECT_EQ(rounded.execution.recuts[0].layer, ErrorLayer::kCornerRounding);
}

}  // namespace
}  // namespace aircut::sim
