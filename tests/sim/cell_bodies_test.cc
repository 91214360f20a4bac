#include "sim/cell_bodies.h"

#include <set>
#include <string>

#include <gtest/gtest.h>

#include "tests/support/tiny_job.h"

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
                         "spindle housing / uncut piece", "link 6 / uncut piece"}) {
    EXPECT_TRUE(pairs.count(in)) << in;
  }
  for (const char* out : {"link 2 / link 3", "link 6 / spindle housing", "link 1 / floor",
                          "fixture / fence", "cutter 1 / uncut piece",
                          "shank and holder of cutter 1 / uncut piece",
                          "spindle housing / cutter 1"}) {
    EXPECT_FALSE(pairs.count(out)) << out;
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

}  // namespace
}  // namespace aircut::sim
