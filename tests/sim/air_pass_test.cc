#include "sim/air_pass.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "sim/dry_run.h"
#include "sim/path_file.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::MoveKind;
using kinematics::Pose;
using test::TempFolder;
using test::TinyJob;

TinyJob With(const std::string& keys) {
  TinyJob files;
  files.Change("tiny.job.yaml", "resolution_mm", keys + "\nresolution_mm");
  return files;
}

struct Done {
  Job job;
  Run run;
  const AirPass& pass() const { return *run.air_pass; }
};

Done Ran(const TinyJob& files, int threads = 2) {
  const TempFolder folder;
  const Job job = LoadJob(files.WriteTo(folder), {});
  RunOptions options;
  options.resolution_mm = 1.0;
  options.threads = threads;
  return {job, Execute(job, options)};
}

double Nearest(const Done& done, BodyKind a, BodyKind b) {
  double nearest = 1e30;
  for (const PairClearance& pair : done.pass().clearances) {
    const BodyKind ka = done.run.body_kinds[static_cast<std::size_t>(pair.a)];
    const BodyKind kb = done.run.body_kinds[static_cast<std::size_t>(pair.b)];
    if ((ka == a && kb == b) || (ka == b && kb == a)) nearest = std::min(nearest, pair.clearance_mm);
  }
  return nearest;
}

// Oracle: the written path, moved. The joints of the pass lead back to tips that lie
// the stated distance in the stated direction from the written ones, turned alike.
TEST(AirPassTest, TipsAreTheWrittenOnesMoved) {
  const Done done = Ran(With("air_pass: {raise: 30, along: [0, 0.6, 0.8]}"));
  ASSERT_TRUE(done.pass().planned());
  EXPECT_FALSE(done.pass().raise_assumed || done.pass().along_assumed);
  const kinematics::MotionTrack& track = done.pass().motion.tracks[0];
  EXPECT_EQ(track.name, "slow air pass");
  std::vector<bool> seen(done.job.path.size(), false);
  double off_mm = 0.0;
  for (std::size_t m = 0; m < track.size(); ++m) {
    const int index = track.path_index[m];
    if (index < 0 || (m + 1 < track.size() && track.path_index[m + 1] == index)) continue;
    const auto i = static_cast<std::size_t>(index);
    seen[i] = true;
    off_mm = std::max(off_mm, (track.X_ST[m].translation() - done.job.path[i].p_ST - Vector3d(0, 18, 24)).norm());
    EXPECT_LE((track.X_ST[m].linear() - done.run.motion.R_ST_per_line[i]).norm(), 1e-6) << i;
  }
  EXPECT_THAT(seen, testing::Each(true));
  // The controller rounds corners by 0.5 mm at most.
  EXPECT_LE(off_mm, 0.5);
  EXPECT_EQ(done.pass().motion.posture_per_line, done.run.motion.posture_per_line);
}

TEST(AirPassTest, SpindleStandsAndRapidsBecomeSlowMoves) {
  const Done done = Ran(With("air_pass: {raise: 30}"));
  ASSERT_EQ(done.pass().path.size(), done.job.path.size());
  for (std::size_t i = 0; i < done.job.path.size(); ++i) {
    const kinematics::PathLine& line = done.pass().path[i];
    EXPECT_EQ(line.spindle_rpm, 0.0);
    EXPECT_EQ(line.move, MoveKind::kCut);
    EXPECT_GT(line.feed_mm_s, 0.0);
    EXPECT_LE(line.feed_mm_s, kSlowPlanned_mm_s);
    EXPECT_EQ(line.line, done.job.path[i].line);
    if (done.job.path[i].move == MoveKind::kCut) {
      EXPECT_LE(line.feed_mm_s, done.job.path[i].feed_mm_s);
    }
  }
  EXPECT_EQ(done.pass().joint_rapids, 0);
}

// Oracle: the limit that was planned for. Rapids and the ways from home and back reach
// it, nothing goes beyond.
TEST(AirPassTest, TipAndLinksStayAtThePlannedSpeed) {
  const Done done = Ran(With("air_pass: {raise: 30}"));
  EXPECT_GT(done.pass().fastest.speed_mm_s, 0.9 * kSlowPlanned_mm_s);
  EXPECT_LE(done.pass().fastest.speed_mm_s, kSlowPlanned_mm_s * (1.0 + kSlowOvershoot));
}

// Oracle: closed form. The tool leans by 30 degrees over 10 mm of travel; the wrist
// centre stands 310 mm above the tip and goes 1 + 310 * (pi / 6) / 10 = 17.2 times as
// far as the tip where the tool is still upright.
TEST(AirPassTest, LinkThatRunsAheadOfTheTipHoldsTheFeedDown) {
  TinyJob files = With("air_pass: {raise: 30}");
  files.files["groove.csv"] =
      "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,move\n"
      "10,20,60,0,0,1,0,12000,rapid\n"
      "20,20,60,0.5,0,0.8660254037844386,0,12000,rapid\n"
      "20,20,70,0.5,0,0.8660254037844386,0,12000,rapid\n"
      "20,20,90,0.5,0,0.8660254037844386,0,12000,rapid\n"
      "20,20,89,0.5,0,0.8660254037844386,600,12000,cut\n";
  const Done done = Ran(files);
  ASSERT_TRUE(done.pass().planned());
  const double ratio = 1.0 + 310.0 * (3.14159265358979323846 / 6.0) / 10.0;
  EXPECT_NEAR(done.pass().path[1].feed_mm_s, kSlowPlanned_mm_s / ratio, 0.03 * kSlowPlanned_mm_s / ratio);
  // Straight up all points go alike; only the line before shares its rounded corner
  // with the turn.
  EXPECT_NEAR(done.pass().path[3].feed_mm_s, kSlowPlanned_mm_s, 0.03 * kSlowPlanned_mm_s);
  EXPECT_LE(done.pass().fastest.speed_mm_s, kSlowPlanned_mm_s * (1.0 + kSlowOvershoot));
}

// Oracle: by hand. The groove is 1 mm deep: raised by 4 mm the flat end that stands
// for the cutter passes 3 mm above the face.
TEST(AirPassTest, DistanceFromTheUncutPieceIsRaiseLessDepth) {
  const Done clear = Ran(With("air_pass: {raise: 4}"));
  EXPECT_NEAR(Nearest(clear, BodyKind::kCutter, BodyKind::kPiece), 3.0, 0.05);
  const Done touching = Ran(With("air_pass: {raise: 0.5}"));
  EXPECT_LT(Nearest(touching, BodyKind::kCutter, BodyKind::kPiece), 0.0);
}

// Oracle: by hand. The path's tool axes are all S's z.
TEST(AirPassTest, WithoutKeysItRisesAlongTheMeanToolAxis) {
  const Done done = Ran(TinyJob());
  EXPECT_TRUE(done.pass().raise_assumed && done.pass().along_assumed);
  EXPECT_EQ(done.pass().raise_mm, 50.0);
  EXPECT_EQ(done.pass().along_S, Vector3d(0, 0, 1));
}

// Oracle: closed form. Axes that lean by a to both sides have the middle as mean, as
// long as cos a is not too small; rapids do not count.
TEST(AirPassTest, MeanToolAxisIsTheMiddleOrNone) {
  const auto path = [](double lean_deg) {
    const double a = lean_deg * 3.14159265358979323846 / 180.0;
    kinematics::ToolPath lines(3);
    lines[0].axis_S = {std::sin(a), 0, std::cos(a)};
    lines[1].axis_S = {-std::sin(a), 0, std::cos(a)};
    lines[2].axis_S = {1, 0, 0};
    lines[2].move = MoveKind::kRapid;
    return lines;
  };
  EXPECT_LE((MeanToolAxis(path(30)) - Vector3d(0, 0, 1)).norm(), 1e-15);
  EXPECT_LE((MeanToolAxis(path(44)) - Vector3d(0, 0, 1)).norm(), 1e-15);
  EXPECT_EQ(MeanToolAxis(path(46)), Vector3d::Zero());
  EXPECT_EQ(MeanToolAxis(path(90)), Vector3d::Zero());
  EXPECT_EQ(MeanToolAxis({}), Vector3d::Zero());
}

TEST(AirPassTest, RaisedOutOfReachIsAFaultOfThePassAlone) {
  const Done done = Ran(With("air_pass: {raise: 1500}"));
  EXPECT_TRUE(done.run.motion.complete());
  EXPECT_FALSE(done.pass().planned());
  EXPECT_FALSE(done.pass().motion.faults.empty());
  EXPECT_TRUE(done.pass().clearances.empty());
}

// Oracle: the bodies of the cell at every moment, without the search's own covers. A
// capsule's box is exact, so the swept box is at least that of all capsules.
TEST(AirPassTest, SweptBoxHoldsToolAndLinks) {
  const Done done = Ran(With("air_pass: {raise: 30}"));
  const Eigen::AlignedBox3d& box = done.pass().swept_W;
  const kinematics::MotionTrack& track = done.pass().motion.tracks[0];
  Eigen::AlignedBox3d capsules;
  for (std::size_t m = 0; m < track.size(); ++m) {
    const std::vector<Pose> links = kinematics::LinkPoses(*done.job.cell.arm, track.q[m]);
    for (const LinkBody& body : done.job.cell.links) {
      for (const Shape& shape : body.shapes) {
        const auto* capsule = std::get_if<CapsuleShape>(&shape);
        if (capsule == nullptr || body.link == 0) continue;
        const Pose X_WL = done.job.cell.X_WB * links[static_cast<std::size_t>(body.link - 1)];
        for (const Vector3d& end : {capsule->from, capsule->to}) {
          const Vector3d p = X_WL * end;
          capsules.extend(Vector3d(p.array() - capsule->radius_mm));
          capsules.extend(Vector3d(p.array() + capsule->radius_mm));
        }
      }
    }
    EXPECT_TRUE(box.contains(Vector3d(done.job.cell.X_WS * track.X_ST[m].translation())));
  }
  EXPECT_TRUE(box.contains(capsules));
  // The highest point is the elbow's, a capsule: there the box ends with it.
  EXPECT_NEAR(box.max().z(), capsules.max().z(), 1e-9);
}

// Oracle: the raised path itself, through our own reader.
TEST(AirPassTest, TableReadsBackToTheRaisedPath) {
  const Done done = Ran(With("air_pass: {raise: 30, along: [0, 0.6, 0.8]}"));
  const TempFolder folder;
  const PathProgram back =
      ReadPathProgram("pose_table", folder.Write("slow.csv", AirPassTable(done.job, done.pass())), {});
  ASSERT_EQ(back.rows.size(), done.pass().path.size());
  for (std::size_t i = 0; i < back.rows.size(); ++i) {
    const PoseRow& row = back.rows[i];
    const kinematics::PathLine& line = done.pass().path[i];
    EXPECT_EQ(row.p_SQ, line.p_ST) << i;   // control point: tip end
    ASSERT_TRUE(row.R_ST) << i;
    EXPECT_LE((*row.R_ST - *line.R_ST).cwiseAbs().maxCoeff(), 4e-15) << i;
    EXPECT_EQ(row.feed_mm_s, line.feed_mm_s) << i;
    EXPECT_EQ(row.move, MoveKind::kCut) << i;
    EXPECT_EQ(row.spindle_rpm, 0.0) << i;
    EXPECT_EQ(row.tool, line.tool) << i;
  }
}

TEST(AirPassTest, SameForOneThreadAndTwo) {
  const Done one = Ran(With("air_pass: {raise: 4}"), 1), two = Ran(With("air_pass: {raise: 4}"), 2);
  ASSERT_EQ(one.pass().clearances.size(), two.pass().clearances.size());
  for (std::size_t i = 0; i < one.pass().clearances.size(); ++i) {
    EXPECT_EQ(one.pass().clearances[i].clearance_mm, two.pass().clearances[i].clearance_mm);
    EXPECT_EQ(one.pass().clearances[i].bound_mm, two.pass().clearances[i].bound_mm);
  }
  EXPECT_EQ(AirPassTable(one.job, one.pass()), AirPassTable(two.job, two.pass()));
}

// Oracle: the box that the pass sweeps. A ceiling, stated as a plane that nothing may
// cross, is left alone 20 mm above it and crossed 80 mm below its top.
TEST(AirPassTest, LeavingTheStatedSpaceIsAContact) {
  const double top_mm = Ran(With("air_pass: {raise: 60}")).pass().swept_W.max().z();
  for (const double above_mm : {20.0, -80.0}) {
    TinyJob files = With("air_pass: {raise: 60}");
    files.Change("tiny.cell.yaml", "floor: {z: 0}",
                 "floor: {z: 0}, restricted: [{name: ceiling, point: [0, 0, " + std::to_string(top_mm + above_mm) +
                     "], inwards: [0, 0, -1]}]");
    const Done done = Ran(files);
    double nearest_mm = 1e30;
    for (const PairClearance& pair : done.pass().clearances) {
      if (done.run.world->body(pair.b).name == "ceiling") nearest_mm = std::min(nearest_mm, pair.clearance_mm);
    }
    EXPECT_EQ(nearest_mm > 0.0, above_mm > 0.0) << nearest_mm;
  }
}

}  // namespace
}  // namespace aircut::sim
