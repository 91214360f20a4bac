#include "sim/dry_run.h"

#include <cmath>
#include <limits>
#include <vector>

#include <gtest/gtest.h>

#include "sim/executed_track.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using test::TempFolder;
using test::TinyJob;

Run RunOf(const Job& job, int threads = 2, double resolution_mm = 0.5) {
  RunOptions options;
  options.resolution_mm = resolution_mm;
  options.threads = threads;
  return Execute(job, options);
}

// How far the executed track passes each line's tip by, at the line's last moment.
std::vector<double> MissedTips_mm(const Job& job, const Run& run) {
  const auto& motion = run.motion.tracks.at(0);
  std::vector<double> missed_mm(job.path.size(), std::numeric_limits<double>::infinity());
  for (std::size_t m = 0; m + 1 < motion.size(); ++m) {
    const int index = motion.path_index[m];
    if (index < 0 || motion.path_index[m + 1] == index) continue;   // the last moment of a line
    const auto line = static_cast<std::size_t>(index);
    missed_mm[line] = (run.track.p_ST[m] - job.path[line].p_ST).norm();
  }
  return missed_mm;
}

// Oracle: the written path. The track made from the planned joints passes every
// line's tip within the accuracy of the inverse kinematics.
TEST(ExecutedTrackTest, JointsLeadBackToTheWrittenTips) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "corner: {rule: blend, distance: 0.5}", "corner: {rule: exact_stop}");
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  for (const double missed_mm : MissedTips_mm(job, RunOf(job))) EXPECT_LT(missed_mm, 1e-6);
}

// The same with an arm whose postures are searched.
TEST(ExecutedTrackTest, JointsOfAnOffsetWristLeadBackToTheWrittenTips) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "corner: {rule: blend, distance: 0.5}", "corner: {rule: exact_stop}");
  tiny.Change("tiny.cell.yaml", test::TinyArmForm(), test::OffsetWristForm());
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  const auto run = RunOf(job);
  ASSERT_TRUE(run.motion.complete());
  for (const double missed_mm : MissedTips_mm(job, run)) EXPECT_LT(missed_mm, 1e-6);
}

// Oracle: an arc that touches both sides of a square corner 0.5 mm before and
// behind it leaves the corner by 0.5 tan(90 / 4 deg); all other lines are met.
TEST(ExecutedTrackTest, SquareCornersOfTheGrooveAreRoundedByTheArc) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  int rounded = 0;
  for (const double missed_mm : MissedTips_mm(job, RunOf(job))) {
    if (missed_mm < 1e-6) continue;
    EXPECT_NEAR(missed_mm, 0.5 * std::tan(std::atan(1.0) / 2.0), 1e-6);
    ++rounded;
  }
  EXPECT_EQ(rounded, 2);
}

// Oracle: by hand. Wait 2 s, 30 mm at 10 mm/s, turn on the spot for a written
// 4 s (its feed of 1 mm/s stands in for none), wait 1 s, a rapid.
TEST(ExecutedTrackTest, WrittenPathKeepsTimeWithDwellsAndWrittenDurations) {
  const TempFolder folder;
  Job job = LoadJob(TinyJob().WriteTo(folder), {});
  kinematics::PathLine line = job.path.front();
  line.p_ST = {0, 0, 5};
  line.axis_S = {0, 0, 1};
  line.R_ST.reset();
  line.duration_s.reset();
  line.move = kinematics::MoveKind::kCut;
  line.feed_mm_s = 10.0;
  line.dwell_s = 0.0;
  job.path.assign(4, line);
  job.path[0].dwell_s = 2.0;
  for (std::size_t i = 1; i < 4; ++i) job.path[i].p_ST = {30, 0, 5};
  for (std::size_t i = 2; i < 4; ++i) job.path[i].axis_S = {0.6, 0, 0.8};
  job.path[2].feed_mm_s = 1.0;
  job.path[2].duration_s = 4.0;
  job.path[2].dwell_s = 1.0;
  job.path[3].move = kinematics::MoveKind::kRapid;
  job.path[3].p_ST.z() = 50;
  const std::vector<double> time_s = TrackFromPath(job, job.cell.X_WS).time_s;
  ASSERT_EQ(time_s.size(), 4u);
  EXPECT_DOUBLE_EQ(time_s[0], 0.0);
  EXPECT_DOUBLE_EQ(time_s[1], 5.0);
  EXPECT_DOUBLE_EQ(time_s[2], 9.0);
  EXPECT_DOUBLE_EQ(time_s[3], 10.0);
  // Nothing moves: no time is sure to pass, whatever is written.
  job.path[2].axis_S = job.path[1].axis_S;
  EXPECT_EQ(WrittenTime_s(job.path[1], job.path[2]), 0.0);
}

// Oracle: by construction. A bit measured 0.3 mm longer than typed cuts 0.3 mm
// deeper: planned with what is believed, cut with what is there.
TEST(ExecutedTrackTest, LongerBitThanTypedCutsDeeper) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "measured: {stick_out: 40}", "measured: {stick_out: 40.3}");
  const auto run = RunOf(LoadJob(tiny.WriteTo(folder), {}));
  ASSERT_FALSE(run.samples.empty());
  int carved = 0;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const Eigen::Vector3d& p = run.samples[i].ray.p_SQ;
    if (run.samples[i].role != DesignSample::Role::kCarve || std::abs(p.x() - 30.0) > 15.0) continue;
    EXPECT_NEAR(run.depths[i].top_mm, -0.3, 2e-3);
    ++carved;
  }
  EXPECT_GT(carved, 20);
}

// Oracle: the floor of a groove cut by a ball of radius R rises by
// R - sqrt(R^2 - y^2) beside its middle: a bit measured 5.6 mm across where 6 mm is
// typed leaves the narrower groove, its bottom where it was.
TEST(ExecutedTrackTest, ThinnerBitThanTypedCutsNarrower) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "measured: {stick_out: 40}", "measured: {stick_out: 40, diameter: 5.6}");
  const auto run = RunOf(LoadJob(tiny.WriteTo(folder), {}));
  int carved = 0;
  double widest_mm = 0.0, worst_mm = 0.0;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const Eigen::Vector3d& p = run.samples[i].ray.p_SQ;
    const double y = std::abs(p.y() - 20.0);
    if (std::abs(p.x() - 30.0) > 15.0 || !run.depths[i].touched) continue;
    worst_mm = std::max(worst_mm, std::abs(run.depths[i].top_mm - (2.8 - std::sqrt(2.8 * 2.8 - y * y))));
    widest_mm = std::max(widest_mm, y);
    ++carved;
  }
  EXPECT_GT(carved, 20);
  EXPECT_GT(widest_mm, 1.5);
  EXPECT_LE(worst_mm, 2e-3);
}

// Oracle: by construction. Every touched point 2 mm higher: the piece stands
// 2 mm above the frame, so the path, which rides on the frame, cuts 2 mm deeper.
TEST(ExecutedTrackTest, PieceTouchedHigherIsCutDeeper) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.files.at("touched.csv") = "x_mm,y_mm,z_mm\n1010,-10,272\n1050,-10,272\n1030,10,272\n";
  const auto run = RunOf(LoadJob(tiny.WriteTo(folder), {}));
  EXPECT_EQ(run.location.directions_seen, 3);
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const Eigen::Vector3d& p = run.samples[i].ray.p_SQ;
    if (run.samples[i].role != DesignSample::Role::kCarve || std::abs(p.x() - 30.0) > 15.0) continue;
    EXPECT_NEAR(run.depths[i].top_mm, -2.0, 2e-3);
  }
}

// A path that the arm cannot reach is still cut on paper, so that the depth can
// be told; nothing is said of clearances then.
TEST(DryRunTest, UnreachablePathIsCutFromTheWrittenLines) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "in_world: {position: [1000, -20, 250]", "in_world: {position: [5000, -20, 250]");
  tiny.Change("tiny.cell.yaml", "  touched: touched.csv\n", "");
  const auto run = RunOf(LoadJob(tiny.WriteTo(folder), {}));
  EXPECT_FALSE(run.executed);
  EXPECT_FALSE(run.motion.faults.empty());
  EXPECT_GT(run.cut.removed_voxels, 0);
  EXPECT_TRUE(run.clearances.empty());
}

// Oracle: levers. Joints may leave an even run between moments by 4e-5 rad each;
// the tool stands 1 m from the first two axes and over 0.5 m from the third, so
// its place is uncertain by 0.1 mm at least: more than the search's own 0.06 mm.
TEST(DryRunTest, ClearanceBoundHoldsTheCurveOfJointsBetweenMoments) {
  const TempFolder folder;
  const auto run = RunOf(LoadJob(TinyJob().WriteTo(folder), {}));
  ASSERT_FALSE(run.clearances.empty());
  for (const PairClearance& pair : run.clearances) EXPECT_GT(pair.bound_mm, 0.1);
}

// Metamorphic: the number of threads changes no bit of any result.
TEST(DryRunTest, OneAndThreeThreadsGiveTheSameBits) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  const auto one = RunOf(job, 1), three = RunOf(job, 3);
  EXPECT_EQ(one.cut.removed_voxels, three.cut.removed_voxels);
  ASSERT_EQ(one.depths.size(), three.depths.size());
  for (std::size_t i = 0; i < one.depths.size(); ++i) {
    EXPECT_EQ(one.depths[i].top_mm, three.depths[i].top_mm);
    EXPECT_EQ(one.depths[i].sweep, three.depths[i].sweep);
  }
  ASSERT_EQ(one.clearances.size(), three.clearances.size());
  for (std::size_t i = 0; i < one.clearances.size(); ++i) {
    EXPECT_EQ(one.clearances[i].clearance_mm, three.clearances[i].clearance_mm);
    EXPECT_EQ(one.clearances[i].bound_mm, three.clearances[i].bound_mm);
  }
  EXPECT_EQ(one.motion.tracks[0].time_s, three.motion.tracks[0].time_s);
}

// Metamorphic: the whole cell moved by one rigid motion. Depth, time and
// clearance must not notice (a floor would, so it goes).
TEST(DryRunTest, MovingTheWholeCellChangesNothing) {
  const TempFolder folder;
  TinyJob still, moved;
  still.Change("tiny.cell.yaml", "floor: {z: 0}", "floor: none");
  moved.Change("tiny.cell.yaml", "floor: {z: 0}", "floor: none");
  // A quarter turn about z, then (300, -200, 50): x -> 300 - y, y -> x - 200.
  moved.Change("tiny.cell.yaml", "base_in_world: {position: [0, 0, 0], rotation: {axis: [0, 0, 1], angle: 0}}",
               "base_in_world: {position: [300, -200, 50], rotation: {axis: [0, 0, 1], angle: 90}}");
  moved.Change("tiny.cell.yaml", "in_world: {position: [1000, -20, 250], rotation: {axis: [0, 0, 1], angle: 0}}",
               "in_world: {position: [320, 800, 300], rotation: {axis: [0, 0, 1], angle: 90}}");
  moved.files.at("touched.csv") = "x_mm,y_mm,z_mm\n310,810,320\n310,850,320\n290,830,320\n";
  still.files.at("touched.csv") = "x_mm,y_mm,z_mm\n1010,-10,270\n1050,-10,270\n1030,10,270\n";
  moved.Change("tiny.cell.yaml", "box: {min: [1800, -1000, 0], max: [1850, 1000, 2000]}",
               "box: {min: [-700, 1600, 50], max: [1300, 1650, 2050]}");
  const auto a = RunOf(LoadJob(still.WriteTo(folder, "a/"), {}));
  const auto b = RunOf(LoadJob(moved.WriteTo(folder, "b/"), {}));
  EXPECT_NEAR(a.motion.tracks[0].time_s.back(), b.motion.tracks[0].time_s.back(), 1e-6);
  ASSERT_EQ(a.depths.size(), b.depths.size());
  for (std::size_t i = 0; i < a.depths.size(); ++i) {
    EXPECT_NEAR(a.depths[i].top_mm, b.depths[i].top_mm, 1e-6);
  }
  ASSERT_EQ(a.clearances.size(), b.clearances.size());
  for (std::size_t i = 0; i < a.clearances.size(); ++i) {
    // Searches may stop at different moments: both are good to their bounds.
    EXPECT_NEAR(a.clearances[i].clearance_mm, b.clearances[i].clearance_mm,
                a.clearances[i].bound_mm + b.clearances[i].bound_mm);
  }
}

// Refined voxels must bring the grid nearer to the exact rays.
TEST(DryRunTest, FinerVoxelsBringTheGridNearerToTheRays) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  const auto rms = [&](double resolution_mm) {
    const auto run = RunOf(job, 2, resolution_mm);
    double sum = 0.0;
    int count = 0;
    for (std::size_t i = 0; i < run.samples.size(); ++i) {
      if (run.samples[i].role != DesignSample::Role::kCarve || std::isnan(run.grid_gaps[i].gap_mm)) continue;
      sum += std::pow(static_cast<double>(run.grid_gaps[i].gap_mm), 2);
      ++count;
    }
    EXPECT_GT(count, 20);
    return std::sqrt(sum / count);
  };
  const double coarse = rms(1.0), fine = rms(0.25);
  EXPECT_LT(fine, 0.5 * coarse);
  EXPECT_LT(fine, 0.1 * 0.25);
}

}  // namespace
}  // namespace aircut::sim
