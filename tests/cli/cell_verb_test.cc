#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::HasSubstr;
using testing::StartsWith;

std::string CellOf(const TempFolder& folder) { return (folder.path() / "tiny.cell.yaml").string(); }

// Oracle: sums by hand from the file: 150 + 40 = 190 mm, in line with the flange.
TEST(CellVerbTest, GoodCellIsToldAndDrawnBesideIt) {
  const TempFolder folder;
  TinyJob().WriteTo(folder);
  const Outcome outcome = RunAircut("cell " + CellOf(folder));
  EXPECT_EQ(outcome.code, 0) << outcome.err;
  EXPECT_EQ(outcome.err, "");
  EXPECT_THAT(outcome.out, StartsWith("Cell: test bench (invented)\n"));
  EXPECT_THAT(outcome.out, HasSubstr("flange to nose 150 mm + nose to tip 40 mm = 190 mm"));
  EXPECT_THAT(outcome.out, HasSubstr("cell-tiny.png"));
  EXPECT_THAT(TextOf(folder.path() / "cell-tiny.png"), StartsWith("\x89PNG"));
}

// Oracle: the shipped scene's arm and stack, Pythagoras of 190 and 130 mm.
TEST(CellVerbTest, ShippedSceneIsUnderstood) {
  const Outcome outcome = RunAircut("cell " + std::string(AIRCUT_SCENES) + "/transom/boat_shop.cell.yaml --no-picture");
  EXPECT_EQ(outcome.code, 0) << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("flange to nose 150 mm + nose to tip 40 mm = 190 mm"));
  EXPECT_THAT(outcome.out, HasSubstr("230.217 mm in a straight line"));
}

// The picture goes where it is asked for and nowhere else, and leaves nothing half written.
TEST(CellVerbTest, PictureIsWrittenWhereAskedOnly) {
  const TempFolder folder, other;
  TinyJob().WriteTo(folder);
  const std::set<std::string> before = Below(folder.path());
  const std::string picture = (other.path() / "mine.png").string();
  EXPECT_EQ(RunAircut("cell " + CellOf(folder) + " --picture " + picture).code, 0);
  EXPECT_EQ(Below(folder.path()), before);
  EXPECT_EQ(Below(other.path()), std::set<std::string>{"mine.png"});
  EXPECT_EQ(RunAircut("cell " + CellOf(folder) + " --no-picture").code, 0);
  EXPECT_EQ(Below(folder.path()), before);
}

// The same bytes for the same cell.
TEST(CellVerbTest, PictureAndSheetRepeat) {
  const TempFolder folder, other;
  TinyJob().WriteTo(folder);
  const std::string first = (other.path() / "a.png").string(), second = (other.path() / "b.png").string();
  RunAircut("cell " + CellOf(folder) + " --picture " + first);
  RunAircut("cell " + CellOf(folder) + " --picture " + second);
  EXPECT_EQ(TextOf(first), TextOf(second));
}

// Bad places for the picture are refused before anything is printed.
TEST(CellVerbTest, PlacesThatTakeNoPictureAreRefused) {
  const TempFolder folder;
  TinyJob().WriteTo(folder);
  for (const std::string name : {"/nowhere/a.png", "/a.jpg", "/folder.png"}) {
    std::filesystem::create_directories(folder.path() / "folder.png");
    const Outcome outcome = RunAircut("cell " + CellOf(folder) + " --picture " + folder.path().string() + name);
    EXPECT_EQ(outcome.code, 2) << name;
    EXPECT_EQ(outcome.out, "") << name;
    EXPECT_THAT(outcome.err, HasSubstr("--no-picture")) << name;
  }
}

// One sentence with file, line and key.
TEST(CellVerbTest, BadCellIsRefusedWithItsLine) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "hand: right", "hand: up");
  tiny.WriteTo(folder);
  const Outcome outcome = RunAircut("cell " + CellOf(folder));
  EXPECT_EQ(outcome.code, 2);
  EXPECT_EQ(outcome.out, "");
  EXPECT_THAT(outcome.err, testing::AllOf(HasSubstr("tiny.cell.yaml:"), HasSubstr("hand")));
  EXPECT_FALSE(std::filesystem::exists(folder.path() / "cell-tiny.png"));
}

TEST(CellVerbTest, UsageIsHelpfulAndMistakesAreTwo) {
  EXPECT_EQ(RunAircut("cell --help").code, 0);
  EXPECT_THAT(RunAircut("cell --help").out, HasSubstr("aircut cell boat_shop.cell.yaml"));
  EXPECT_EQ(RunAircut("cell").code, 2);
  EXPECT_EQ(RunAircut("cell a.yaml --picture a.png --no-picture").code, 2);
  EXPECT_EQ(RunAircut("cell missing.cell.yaml").code, 2);
}

}  // namespace
}  // namespace aircut::test
