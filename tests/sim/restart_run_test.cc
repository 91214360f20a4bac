#include "sim/restart_run.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/dry_run.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::MoveKind;
using testing::ElementsAre;
using test::TempFolder;
using test::TinyJob;

// r = rapid, c = cut.
kinematics::ToolPath PathOf(const std::string& moves) {
  kinematics::ToolPath path(moves.size());
  for (std::size_t i = 0; i < moves.size(); ++i) {
    path[i].move = moves[i] == 'c' ? MoveKind::kCut : MoveKind::kRapid;
  }
  return path;
}

// Oracle: by hand.
TEST(RestartRunTest, StartsOfCutsAreChosenEvenly) {
  EXPECT_THAT(StartsOfCuts(PathOf("rccrrcr"), 50), ElementsAre(1, 5));
  EXPECT_THAT(StartsOfCuts(PathOf("ccrc"), 50), ElementsAre(0, 3));
  EXPECT_THAT(StartsOfCuts(PathOf("rrr"), 50), ElementsAre());
  EXPECT_THAT(StartsOfCuts(PathOf(""), 50), ElementsAre());
  const std::string five = "rcrcrcrcrc";
  EXPECT_THAT(StartsOfCuts(PathOf(five), 5), ElementsAre(1, 3, 5, 7, 9));
  EXPECT_THAT(StartsOfCuts(PathOf(five), 4), ElementsAre(1, 3, 5, 9));
  EXPECT_THAT(StartsOfCuts(PathOf(five), 3), ElementsAre(1, 5, 9));
  EXPECT_THAT(StartsOfCuts(PathOf(five), 2), ElementsAre(1, 9));
  EXPECT_THAT(StartsOfCuts(PathOf(five), 1), ElementsAre(1));
}

// Oracle: by hand. Ends of cuts come first, then lines between, both evenly.
TEST(RestartRunTest, StopsTakeTheEndsOfCutsFirst) {
  const std::string two = "rccccrcccr";   // cuts 1..4 and 6..8
  EXPECT_THAT(StopsInCuts(PathOf(two), 100), ElementsAre(1, 2, 3, 4, 6, 7, 8));
  EXPECT_THAT(StopsInCuts(PathOf(two), 7), ElementsAre(1, 2, 3, 4, 6, 7, 8));
  EXPECT_THAT(StopsInCuts(PathOf(two), 6), ElementsAre(1, 2, 4, 6, 7, 8));
  EXPECT_THAT(StopsInCuts(PathOf(two), 5), ElementsAre(1, 2, 4, 6, 8));
  EXPECT_THAT(StopsInCuts(PathOf(two), 4), ElementsAre(1, 4, 6, 8));
  EXPECT_THAT(StopsInCuts(PathOf(two), 2), ElementsAre(1, 8));
  EXPECT_THAT(StopsInCuts(PathOf("rcr"), 9), ElementsAre(1));
  EXPECT_THAT(StopsInCuts(PathOf("rr"), 9), ElementsAre());
}

Run RunOf(const TinyJob& files, int threads = 2) {
  const TempFolder folder;
  const Job job = LoadJob(files.WriteTo(folder), {});
  RunOptions options;
  options.resolution_mm = 1.0;
  options.threads = threads;
  return Execute(job, options);
}

TinyJob With(const std::string& keys) {
  TinyJob files;
  files.Change("tiny.job.yaml", "resolution_mm", keys + "\nresolution_mm");
  return files;
}

TEST(RestartRunTest, OneGrooveHasOneRestartAndIsClear) {
  const auto run = RunOf(With("restarts: {withdrawals: 10}"));
  ASSERT_TRUE(run.restarts);
  EXPECT_EQ(run.restarts->cuts, 1);
  EXPECT_EQ(run.restarts->cut_lines, 42);
  ASSERT_EQ(run.restarts->restarts.size(), 1u);
  ASSERT_EQ(run.restarts->withdrawals.size(), 10u);
  EXPECT_EQ(run.restarts->restarts[0].move.line, 4);   // the plunge; the header is line 1
  EXPECT_EQ(run.restarts->withdrawals.front().move.line, 4);
  EXPECT_EQ(run.restarts->withdrawals.back().move.line, 45);
  EXPECT_TRUE(run.restarts->back_assumed);
  for (const auto* sides : {&run.restarts->restarts, &run.restarts->withdrawals}) {
    for (const SideResult& side : *sides) {
      EXPECT_FALSE(side.move.fault);
      ASSERT_TRUE(side.nearest);
      EXPECT_GT(side.nearest->clearance_mm - side.nearest->bound_mm, 0.0);
    }
  }
}

// Oracle: changed input. A lid hangs where only a tool that is drawn back far comes:
// the job's own motion is as clear as without it, the moves beside it are not.
TEST(RestartRunTest, WhatOnlyDrawingBackMeetsIsFoundAndNamed) {
  const auto ran = [](const std::string& back) {
    TinyJob files = With("restarts: {withdrawals: 5, back: " + back + "}");
    files.Change("tiny.cell.yaml", "obstacles: [{name: fence,",
                 "obstacles: [{name: lid, box: {min: [1040, -60, 850], max: [1120, 60, 870]}}, {name: fence,");
    return RunOf(files);
  };
  const auto near = ran("20"), far = ran("300");
  const auto clashes = [](const auto& run, const std::string& during) {
    int count = 0;
    for (const PairClearance& pair : run.clearances) {
      const bool asked = during.empty() ? pair.during.empty() : pair.during.rfind(during, 0) == 0;
      count += asked && pair.clearance_mm <= 0.0 ? 1 : 0;
    }
    return count;
  };
  EXPECT_EQ(clashes(near, ""), 0);
  EXPECT_EQ(clashes(near, "withdrawal"), 0);
  EXPECT_EQ(clashes(near, "restart"), 0);
  EXPECT_EQ(clashes(far, ""), 0);
  EXPECT_GE(clashes(far, "withdrawal from line 4"), 1);
  EXPECT_GE(clashes(far, "withdrawal from line 45"), 1);
  EXPECT_GE(clashes(far, "restart at line 4"), 1);
  for (const SideResult& side : far.restarts->withdrawals) {
    EXPECT_LE(side.nearest->clearance_mm, 0.0);
    EXPECT_EQ(side.nearest->line, side.move.line);
  }
}

// Oracle: by hand. The cut starts 2 mm above the face of the uncut block; drawn back
// by 5 mm the cutter comes to 7 mm above it, and no nearer on the way there. The last
// way down is the cutter's own.
TEST(RestartRunTest, WayToTheStartIsHeldAgainstTheUncutPiece) {
  const auto run = RunOf(With("restarts: {withdrawals: 1, back: 5}"));
  ASSERT_EQ(run.restarts->restarts.size(), 1u);
  double nearest = 1e30;
  for (const PairClearance& pair : run.restarts->clearances) {
    const auto kind = [&](int body) { return run.body_kinds[static_cast<std::size_t>(body)]; };
    if (pair.during.rfind("restart", 0) != 0 || kind(pair.a) != BodyKind::kCutter || kind(pair.b) != BodyKind::kPiece) continue;
    nearest = pair.clearance_mm;
  }
  EXPECT_NEAR(nearest, 7.0, 0.05);
}

TEST(RestartRunTest, SameForOneThreadAndTwo) {
  const auto one = RunOf(With("restarts: {withdrawals: 5}"), 1), two = RunOf(With("restarts: {withdrawals: 5}"), 2);
  ASSERT_EQ(one.clearances.size(), two.clearances.size());
  for (std::size_t i = 0; i < one.clearances.size(); ++i) {
    EXPECT_EQ(one.clearances[i].clearance_mm, two.clearances[i].clearance_mm);
    EXPECT_EQ(one.clearances[i].bound_mm, two.clearances[i].bound_mm);
    EXPECT_EQ(one.clearances[i].during, two.clearances[i].during);
  }
}

}  // namespace
}  // namespace aircut::sim
