#include "verify/cell_premises.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/verify/sheet_cell.h"

namespace aircut::verify {
namespace {

using support::BareCell;
using testing::HasSubstr;

PremiseSource Premise(const sim::Cell& cell, const std::string& check) {
  for (const PremiseSource& source : PremisesOf(cell)) {
    if (source.check == check) return source;
  }
  ADD_FAILURE() << "no premise " << check;
  return {};
}

// Oracle: design section 6; a file that only speaks for itself has no second source.
TEST(CellPremisesTest, BareCellHasNoSecondSourceAndSaysWhatToAdd) {
  const std::vector<PremiseSource> all = PremisesOf(BareCell().cell);
  EXPECT_EQ(all.size(), 6u);
  for (const PremiseSource& source : all) {
    EXPECT_FALSE(source.second) << source.check;
    EXPECT_FALSE(source.key.empty()) << source.check;
    EXPECT_FALSE(source.action.empty()) << source.check;
  }
}

// Caught: two read-outs. Nearly: three.
TEST(CellPremisesTest, ThreeReadoutsAreASecondSourceForTheArm) {
  sim::Cell cell = BareCell().cell;
  cell.readouts.emplace();
  cell.readouts->rows.resize(2);
  EXPECT_FALSE(Premise(cell, "arm-model").second);
  EXPECT_THAT(Premise(cell, "arm-model").has, HasSubstr("2 read-outs"));
  cell.readouts->rows.resize(3);
  EXPECT_TRUE(Premise(cell, "arm-model").second);
  EXPECT_EQ(Premise(cell, "arm-model").key, "");
}

// Two points leave a turn about the line through them open.
TEST(CellPremisesTest, ThreeTouchedPointsLocateThePiece) {
  sim::Cell cell = BareCell().cell;
  cell.touched_W = {{0, 0, 0}, {100, 0, 0}};
  EXPECT_FALSE(Premise(cell, "piece-located").second);
  cell.touched_W.push_back({0, 100, 0});
  EXPECT_TRUE(Premise(cell, "piece-located").second);
}

TEST(CellPremisesTest, FitNeedsAPointMoreThanItUses) {
  sim::Cell cell = BareCell().cell;
  cell.fit.resize(3);
  EXPECT_FALSE(Premise(cell, "frame-fit").second);
  EXPECT_THAT(Premise(cell, "frame-fit").action, HasSubstr("fourth"));
  cell.fit.resize(4);
  EXPECT_TRUE(Premise(cell, "frame-fit").second);
}

// Every cutter must be measured in both ways; the one that is not is named.
TEST(CellPremisesTest, EachCutterNeedsBothMeasures) {
  sim::Cell cell = BareCell().cell;
  cell.cutters.at(1).measured = true;
  EXPECT_FALSE(Premise(cell, "tool-measured").second) << "diameter is typed";
  cell.cutters.at(1).measured_diameter_mm = 5.99;
  EXPECT_TRUE(Premise(cell, "tool-measured").second);
  cell.cutters.emplace(7, cell.cutters.at(1));
  cell.cutters.at(7).measured = false;
  EXPECT_FALSE(Premise(cell, "tool-measured").second);
  EXPECT_THAT(Premise(cell, "tool-measured").key, HasSubstr("cutters.7"));
}

// "none" is an answer, silence is not.
TEST(CellPremisesTest, SilenceAboutOneBodyIsNamed) {
  sim::Cell cell = BareCell().cell;
  cell.housing = cell.fixture = cell.dust_hood = cell.obstacles = sim::Declared::kNone;
  cell.floor = sim::Declared::kGiven;
  for (int link = 1; link < 6; ++link) {
    cell.links.push_back({link, {sim::CapsuleShape{Eigen::Vector3d::Zero(), Eigen::Vector3d::UnitZ(), 50}}});
  }
  const PremiseSource open = Premise(cell, "bodies-declared");
  EXPECT_FALSE(open.second);
  EXPECT_EQ(open.key, "bodies.hose");
  cell.hose = sim::Declared::kNone;
  EXPECT_TRUE(Premise(cell, "bodies-declared").second);
  cell.links.erase(cell.links.begin() + 2);
  EXPECT_EQ(Premise(cell, "bodies-declared").key, "arm.links of link 3");
}

TEST(CellPremisesTest, PayloadNeedsItsCentreOfMass) {
  sim::Cell cell = BareCell().cell;
  cell.payload = sim::Payload{120, 14, std::nullopt};
  EXPECT_FALSE(Premise(cell, "payload").second);
  cell.payload->centre_F = Eigen::Vector3d(0, 0, 160);
  EXPECT_TRUE(Premise(cell, "payload").second);
  EXPECT_THAT(Premise(cell, "payload").has, HasSubstr("14 kg carried of 120 kg, centre at (0, 0, 160) mm"));
}

}  // namespace
}  // namespace aircut::verify
