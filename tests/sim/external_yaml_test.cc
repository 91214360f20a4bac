#include <cmath>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/external_axes.h"
#include "kinematics/units.h"
#include "sim/cell_tables.h"
#include "sim/dry_run.h"
#include "sim/input_error.h"
#include "sim/job.h"
#include "tests/support/external_job.h"

// Axes outside the arm, from the files to what a run makes of them.
namespace aircut::sim {
namespace {

using kinematics::RadFromDeg;
using test::ExternalJob;
using test::kTable;
using test::kTrack;
using test::TempFolder;
using test::TinyJob;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

Job Load(const TinyJob& tiny) {
  const TempFolder folder;
  return LoadJob(tiny.WriteTo(folder), {});
}

void ExpectFault(const TinyJob& tiny, const std::string& place, const std::string& words) {
  EXPECT_THAT([&] { Load(tiny); }, ThrowsMessage<InputError>(AllOf(HasSubstr(place), HasSubstr(words))));
}

// Oracle: what the files say, converted by definition.
TEST(ExternalYamlTest, AxesAreReadBehindTheJointsOfTheArm) {
  TinyJob tiny = ExternalJob(std::string(kTrack) + kTable, "50, -30");
  tiny.Change("tiny.job.yaml", "stock: {mesh",
              "external: {axes: [{name: table, at: 15}, {name: track, at: free}], samples: 5}\nstock: {mesh");
  const Job job = Load(tiny);
  const kinematics::ArmModel& arm = *job.cell.arm;
  ASSERT_EQ(arm.joint_count(), 8);
  ASSERT_EQ(arm.externals().size(), 2u);
  const kinematics::ExternalAxis &track = arm.externals()[0], &table = arm.externals()[1];
  EXPECT_EQ(track.name, "track");
  EXPECT_EQ(track.side, kinematics::ExternalSide::kTool);
  EXPECT_EQ(track.kind, kinematics::ExternalKind::kSlide);
  EXPECT_EQ(track.direction_B, Eigen::Vector3d::UnitY());
  EXPECT_EQ(table.side, kinematics::ExternalSide::kWork);
  EXPECT_EQ(table.kind, kinematics::ExternalKind::kTurn);
  EXPECT_EQ(table.p_B, Eigen::Vector3d(1030, 0, 0));
  EXPECT_EQ(arm.joints()[6].upper_rad, 2500.0);
  EXPECT_EQ(arm.joints()[6].speed_rad_s, 800.0);
  EXPECT_EQ(arm.joints()[6].sign, -1.0);
  EXPECT_EQ(arm.joints()[6].zero_rad, 50.0);
  EXPECT_NEAR(arm.joints()[7].acceleration_rad_s2, RadFromDeg(120), 1e-12);
  ASSERT_EQ(job.cell.home.size(), 8);
  EXPECT_EQ(job.cell.home[6], 50.0);
  EXPECT_NEAR(job.cell.home[7], RadFromDeg(-30), 1e-12);
  EXPECT_EQ(job.external.at[0], 50.0);  // free: at home
  EXPECT_NEAR(job.external.at[1], RadFromDeg(15), 1e-12);
  EXPECT_EQ(job.external.is_free, (std::vector<bool>{true, false}));
  EXPECT_EQ(job.external.samples, 5);
}

TEST(ExternalYamlTest, WithoutTheJobsWordAxesStandAtHome) {
  const Job job = Load(ExternalJob(kTrack, "70"));
  ASSERT_EQ(job.external.at.size(), 1);
  EXPECT_EQ(job.external.at[0], 70.0);
  EXPECT_EQ(job.external.is_free, std::vector<bool>{false});
}

// Oracle: 25.4 mm an inch.
TEST(ExternalYamlTest, SlidesAreLengthsInTheUnitOfTheFile) {
  TinyJob tiny = ExternalJob(kTrack, "50");
  tiny.Change("tiny.job.yaml", "units: {length: mm", "units: {length: in");
  tiny.Change("tiny.job.yaml", "stock: {mesh", "external: {axes: [{name: track, at: 10}]}\nstock: {mesh");
  EXPECT_NEAR(Load(tiny).external.at[0], 254.0, 1e-9);
}

// Oracle: by hand. Columns of a table follow the kind of the axis.
TEST(ExternalYamlTest, TablesHaveMillimetresForASlide) {
  const TempFolder folder;
  const std::vector<bool> slides = {false, false, false, false, false, false, true};
  const auto rows = ReadJointLog(folder.Write("log.csv",
                                              "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,q7_in\n"
                                              "90,0,0,0,0,0,10\n"),
                                 slides);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_NEAR(rows[0].q[0], kinematics::kPi / 2, 1e-12);
  EXPECT_NEAR(rows[0].q[6], 254.0, 1e-12);
  const auto wrong =
      folder.Write("deg.csv", "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,q7_deg\n90,0,0,0,0,0,10\n");
  EXPECT_THAT([&] { ReadJointLog(wrong, slides); }, ThrowsMessage<InputError>(HasSubstr("q7_deg")));
  const auto readouts =
      ReadReadouts(folder.Write("r.csv",
                                "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,q7_mm,x_mm,y_mm,z_mm,qw,qx,qy,qz\n"
                                "90.00,0,0,0,0,0,10.0,0,0,0,1,0,0,0\n0.00,0,0,0,0,0,11.0,0,0,0,1,0,0,0\n"
                                "0.00,0,0,0,0,0,12.0,0,0,0,1,0,0,0\n"),
                   slides);
  EXPECT_EQ(readouts.slide_rounding_mm, 0.5 * 0.1);
  EXPECT_NEAR(readouts.joint_rounding_rad, RadFromDeg(0.5), 1e-12);
}

TEST(ExternalYamlTest, WrongAxesAreRefusedWithTheirPlace) {
  ExpectFault(ExternalJob(kTrack, ""), "arm.home", "7");
  ExpectFault(ExternalJob(kTrack, "3000"), "arm.home", "outside its range");
  ExpectFault(ExternalJob(std::string(kTrack) + kTrack, "0, 0"), "arm.external[2].name = track",
              "choose one of its own");
  TinyJob unknown = ExternalJob(kTrack, "0");
  unknown.Change("tiny.job.yaml", "stock: {mesh", "external: {axes: [{name: trak, at: 0}]}\nstock: {mesh");
  ExpectFault(unknown, "external.axes[1].name = trak", "track");
  TinyJob none;
  none.Change("tiny.job.yaml", "stock: {mesh", "external: {axes: [{name: track, at: 0}]}\nstock: {mesh");
  ExpectFault(none, "external", "which has none");
}

RunOptions Quick() {
  RunOptions options;
  options.resolution_mm = 1.0;
  options.threads = 2;
  return options;
}

Run RunOf(const TinyJob& tiny) { return Execute(Load(tiny), Quick()); }

// Oracle: the same job on an arm without axes. Driven along and turned back, the arm
// cuts the same groove: what is cut is a matter of the work alone.
TEST(ExternalRunTest, TheCutIsTheSameWhereverTheAxesStand) {
  TinyJob tiny = ExternalJob(std::string(kTrack) + kTable, "50, 0");
  tiny.Change("tiny.job.yaml",
              "stock: {mesh", "external: {axes: [{name: track, at: -70}, {name: table, at: 20}]}\nstock: {mesh");
  TinyJob fixed;
  for (TinyJob* job : {&tiny, &fixed}) {
    job->Change("tiny.cell.yaml", "corner: {rule: blend, distance: 0.5}", "corner: {rule: exact_stop}");
  }
  const auto moved = RunOf(tiny), plain = RunOf(fixed);
  ASSERT_TRUE(moved.executed);
  ASSERT_TRUE(plain.executed);
  ASSERT_EQ(moved.depths.size(), plain.depths.size());
  for (std::size_t i = 0; i < plain.depths.size(); ++i) {
    ASSERT_EQ(moved.depths[i].touched, plain.depths[i].touched) << i;
    if (!plain.depths[i].touched) continue;
    ASSERT_NEAR(moved.depths[i].top_mm, plain.depths[i].top_mm, 1e-5) << i;
  }
  // The tip stands on every line, as seen from the work.
  const kinematics::MotionTrack& track = moved.motion.tracks[0];
  for (std::size_t m = 0; m < track.size(); ++m) {
    EXPECT_LT((moved.track.p_ST[m] - track.X_ST[m].translation()).norm(), 1e-6) << m;
  }
  ASSERT_TRUE(moved.air_pass && moved.restarts);
  EXPECT_TRUE(moved.air_pass->planned());
  EXPECT_GT(moved.air_pass->work_at_most_mm_s, 0.0);  // home to path: the table turns
}

// The work is carried 1400 mm along the track: out of reach from home. The arm rides
// to where it lies within the wrist's longest reach, 150 + 700 + 710 mm (y = 50 - panel).
TEST(ExternalRunTest, AFreeAxisStandsWhereTheWorkIsInReach) {
  TinyJob tiny = ExternalJob(kTrack, "50");
  tiny.Change("tiny.cell.yaml", "in_world: {position: [1000, -20, 250]", "in_world: {position: [1000, -1420, 250]");
  tiny.Change("tiny.cell.yaml", "  touched: touched.csv\n", "");
  EXPECT_FALSE(RunOf(tiny).executed);
  tiny.Change("tiny.job.yaml", "stock: {mesh", "external: {axes: [{name: track, at: free}]}\nstock: {mesh");
  const auto run = RunOf(tiny);
  ASSERT_TRUE(run.executed);
  const kinematics::MotionTrack& track = run.motion.tracks[0];
  double stands_mm = 0.0;
  for (std::size_t m = 0; m < track.size(); ++m) {
    if (track.phase[m] != kinematics::Phase::kCut) continue;
    if (stands_mm == 0.0) stands_mm = track.q[m][6];
    EXPECT_EQ(track.q[m][6], stands_mm);
  }
  EXPECT_LT(std::hypot(1450.0 - stands_mm, 1010.0), 1560.0);
}

const PairClearance* Between(const Run& run, const std::string& a, const std::string& b) {
  for (const PairClearance& pair : run.clearances) {
    const std::string &na = run.world->body(pair.a).name, &nb = run.world->body(pair.b).name;
    if (pair.during.empty() && ((na == a && nb == b) || (na == b && nb == a))) return &pair;
  }
  return nullptr;
}

// Closed form: seen from the fixture a post of 4 mm radius that stands 64 mm from the
// table's axis runs round it; over the long side of the fixture, which lies 40 mm from
// the axis, it keeps 64 sin(angle) - 44 mm, least where the table stands on the path.
TEST(ExternalRunTest, ATurnedTableBringsTheFixtureIntoAPostWhereTheCircleSays) {
  const double radius_mm = std::hypot(50.0, 40.0), post_rad = std::atan2(40.0, 50.0) + RadFromDeg(60);
  const double x = 1030 + radius_mm * std::cos(post_rad), y = radius_mm * std::sin(post_rad);
  const std::string post =
      fmt::format("{{name: post, cylinder: {{from: [{0}, {1}, 0], to: [{0}, {1}, 230], radius: 4}}}}", x, y);
  const auto at_table = [&](double at_rad) {
    TinyJob tiny = ExternalJob(kTable, "0");
    tiny.Change("tiny.cell.yaml", "obstacles: [", "obstacles: [" + post + ", ");
    tiny.Change(
        "tiny.job.yaml", "stock: {mesh",
        fmt::format("external: {{axes: [{{name: table, at: {}}}]}}\nstock: {{mesh", kinematics::DegFromRad(at_rad)));
    const auto run = RunOf(tiny);
    EXPECT_TRUE(run.executed);
    const PairClearance* pair = Between(run, "fixture", "post");
    return pair != nullptr ? *pair : PairClearance{};
  };
  const double touch_rad = post_rad - std::asin(44.0 / radius_mm), step_rad = RadFromDeg(0.3);
  const PairClearance before = at_table(touch_rad - step_rad);
  EXPECT_NEAR(before.clearance_mm, radius_mm * std::sin(post_rad - touch_rad + step_rad) - 44.0, 0.02);
  EXPECT_GT(before.clearance_mm - before.bound_mm, 0.0);
  EXPECT_LE(at_table(touch_rad + step_rad).clearance_mm, 0.0);
}

}  // namespace
}  // namespace aircut::sim
