#include "sim/cell_bodies.h"

#include <set>
#include <string>

#include <gtest/gtest.h>

#include "tests/support/external_job.h"

namespace aircut::sim {
namespace {

using test::TempFolder;
using test::TinyJob;

std::set<std::string> PairNames(const CellBodies& cell) {
  std::set<std::string> names;
  for (const ClearancePair& pair : cell.pairs) {
    names.insert(cell.bodies[static_cast<std::size_t>(pair.a)].name + " / " +
                 cell.bodies[static_cast<std::size_t>(pair.b)].name);
  }
  return names;
}

// Oracle: the shop. What must stay apart is in; what is bolted together, shares
// a joint, or is meant to meet (cutter and piece) is out.
TEST(CellBodiesTest, PairsAreThoseThatMustStayApart) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  const std::set<std::string> pairs = PairNames(BodiesOf(job, job.cell.X_WS));
  for (const char* in : {"spindle housing / fixture", "cutter 1 / fixture", "link 4 / fence",
                         "shank and holder of cutter 1 / fence", "link 2 / link 4", "link 3 / floor",
                         "spindle housing / piece", "link 6 / piece"}) {
    EXPECT_TRUE(pairs.count(in)) << in;
  }
  for (const char* out : {"link 2 / link 3", "link 6 / spindle housing", "link 1 / floor",
                          "fixture / fence", "cutter 1 / piece",
                          "shank and holder of cutter 1 / piece",
                          "spindle housing / cutter 1"}) {
    EXPECT_FALSE(pairs.count(out)) << out;
  }
}

// Oracle: the shop. What a table turns meets what stands around it; the foot rides on
// its track, and the floor carries the track.
TEST(CellBodiesTest, TableAndTrackMakePairsOfWhatUsedToStand) {
  const TempFolder folder;
  const Job job =
      LoadJob(test::ExternalJob(std::string(test::kTrack) + test::kTable, "50, 0").WriteTo(folder), {});
  const CellBodies cell = BodiesOf(job, job.cell.X_WS);
  const std::set<std::string> pairs = PairNames(cell);
  for (const char* in :
       {"link 0 / fixture", "link 0 / fence", "fixture / fence", "fixture / floor", "floor / piece",
        "fence / piece", "link 0 / piece", "link 3 / fixture", "link 0 / link 2"}) {
    EXPECT_TRUE(pairs.count(in)) << in;
  }
  for (const char* out : {"link 0 / floor", "link 1 / floor", "fixture / piece",
                          "cutter 1 / piece", "link 0 / link 1", "fence / floor"}) {
    EXPECT_FALSE(pairs.count(out)) << out;
  }
  for (std::size_t i = 0; i < cell.bodies.size(); ++i) {
    const std::string& name = cell.bodies[i].name;
    const BodyMount& mount = cell.mounts[i];
    const bool on_work = name == "fixture" || name == "piece", on_room = name == "fence" || name == "floor";
    EXPECT_EQ(mount.on == BodyMount::On::kWork, on_work) << name;
    EXPECT_EQ(mount.on == BodyMount::On::kWorld, on_room) << name;
    EXPECT_TRUE(name != "spindle housing" || mount.link == 6);
  }
}

// A piece touched elsewhere than the frame says: the fixture may be at either.
TEST(CellBodiesTest, MovedPieceTriesTheFixtureInBothPlaces) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  kinematics::Pose moved = job.cell.X_WS;
  moved.translation().z() += 2.0;
  EXPECT_TRUE(PairNames(BodiesOf(job, moved)).count("spindle housing / fixture where the piece was touched"));
  EXPECT_FALSE(PairNames(BodiesOf(job, job.cell.X_WS)).count("spindle housing / fixture where the piece was touched"));
}

// Oracle: the shop. A hose gives way to the arm that carries it, not to what
// stands still; a dust hood is bolted to the spindle; clamps stand by the piece.
TEST(CellBodiesTest, HosesHoodAndClampsKeepClearOfWhatStands) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "hose: none, dust_hood: none",
              "hose: [{of: 3, capsule: {from: [0, 0, 0], to: [0, 0, 200], radius: 30}}, "
              "{of: 0, box: {min: [200, 0, 0], max: [300, 10, 10]}}], "
              "dust_hood: [{cylinder: {from: [0, 0, 0], to: [0, 0, 30], radius: 60}}]");
  tiny.Change("tiny.cell.yaml", "  clamps: none\n",
              "  clamps:\n"
              "    - {at: [0, 0, 20], direction: [0, 0, -1], force_n: 900, friction: 0.35, box: {min: [-9, 0, 0], max: [-1, 9, 30]}}\n"
              "    - {at: [60, 0, 20], direction: [0, 0, -1], force_n: 900, friction: 0.35}\n");
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  kinematics::Pose moved = job.cell.X_WS;
  moved.translation().z() += 2.0;
  const std::set<std::string> pairs = PairNames(BodiesOf(job, moved));
  for (const char* in : {"hose at link 3 / fence", "hose at link 3 / floor", "hose at link 3 / piece",
                         "hose at link 3 / fixture", "dust hood / fixture", "dust hood / piece", "link 2 / dust hood",
                         "cutter 1 / clamp 1", "spindle housing / clamp 1", "hose at link 3 / clamp 1",
                         "spindle housing / clamp 1 where the piece was touched"}) {
    EXPECT_TRUE(pairs.count(in)) << in;
  }
  for (const std::string& pair : pairs) {
    EXPECT_EQ(pair.find("clamp 2"), std::string::npos) << pair;
    EXPECT_EQ(pair.find("hose at link 0"), std::string::npos) << pair;
    const bool hose_and_arm = pair.find("hose") != std::string::npos &&
                              (pair.find("link", pair.find("/")) != std::string::npos || pair.find("link") == 0 ||
                               pair.find("cutter") != std::string::npos || pair.find("spindle") != std::string::npos ||
                               pair.find("hood") != std::string::npos);
    EXPECT_FALSE(hose_and_arm) << pair;
  }
  EXPECT_FALSE(pairs.count("spindle housing / dust hood"));
}

// Oracle: the shop. What the cell says cannot meet is no pair; the rest of the two is.
TEST(CellBodiesTest, PairsThatNeverMeetAreLeftOut) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "floor: {z: 0}", "floor: {z: 0}, never_meet: [[link 4, link 2]]");
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  const std::set<std::string> pairs = PairNames(BodiesOf(job, job.cell.X_WS));
  EXPECT_FALSE(pairs.count("link 2 / link 4"));
  EXPECT_TRUE(pairs.count("link 2 / link 5"));
}

// Closed form: a plane square to (0, -3, -4) through (0, 900, 0) is 0.6 * 900 mm from
// the origin; what lies beyond it is solid.
TEST(CellBodiesTest, ARestrictedPlaneIsSolidBeyondIt) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "floor: {z: 0}",
              "floor: {z: 0}, restricted: [{name: aisle, point: [0, 900, 0], inwards: [0, -3, -4]}]");
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  CellBodies cell = BodiesOf(job, job.cell.X_WS);
  EXPECT_TRUE(PairNames(cell).count("link 4 / aisle"));
  std::size_t plane = 0;
  while (cell.bodies[plane].name != "aisle") ++plane;
  const Eigen::Vector3d origin = Eigen::Vector3d::Zero();
  const CollisionWorld world({{"ball", {CapsuleShape{origin, origin, 10.0}}}, cell.bodies[plane]});
  const auto distance_at = [&](const Eigen::Vector3d& p) {
    return world.Distance(0, kinematics::Pose(Eigen::Translation3d(p)), 1, cell.mounts[plane].X_MA).distance_mm;
  };
  EXPECT_NEAR(distance_at(origin), 0.6 * 900.0 - 10.0, 1e-9);
  EXPECT_LT(distance_at({0, 900, 20}), 0.0);
}

}  // namespace
}  // namespace aircut::sim
