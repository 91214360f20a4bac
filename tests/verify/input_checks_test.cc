#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

void ScalePath(MadeRun* made, double factor) {
  for (kinematics::PathLine& line : made->job.path) line.p_ST *= factor;
}

void MovePath(MadeRun* made, const Eigen::Vector3d& by) {
  for (kinematics::PathLine& line : made->job.path) line.p_ST += by;
}

std::shared_ptr<const sim::MeshIndex> Box(const Eigen::Vector3d& min, const Eigen::Vector3d& max) {
  return std::make_shared<const sim::MeshIndex>(sim::BoxMesh(min, max));
}

TEST(InputsTest, MadeRunFits) {
  const CheckResult r = Check(MakeRun(), CheckInputFiles);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("fit each other"));
}

// Oracle: the stock ends at z = 0; a cutter of 6 mm plus 50 mm is 56 mm.
TEST(InputsTest, PathFarFromTheStockIsCaughtAndNearIsQuiet) {
  MadeRun made = MakeRun();
  MovePath(&made, {0, 0, 56.9});   // lowest tip at 55.9
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kPass);
  MovePath(&made, {0, 0, 0.2});
  const CheckResult r = Check(made, CheckInputFiles);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].text, HasSubstr("No cut comes nearer"));
}

// Oracle: domain notes A7: a path read in inches is 25.4 times too large, one
// read in metres 1,000 times. The path stays near the stock in one corner.
TEST(InputsTest, PathInOtherUnitsIsCaughtAndNamed) {
  MadeRun inches = MakeRun();
  MovePath(&inches, {-40, -40, 0});
  ScalePath(&inches, 25.4);
  CheckResult r = Check(inches, CheckInputFiles);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("25.4"));
  MadeRun metres = MakeRun();
  MovePath(&metres, {-40, -40, 0});
  ScalePath(&metres, 1000.0);
  r = Check(metres, CheckInputFiles);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("1000"));
}

// Oracle: design, section 6: a motif a fortieth of its board must stay quiet.
TEST(InputsTest, SmallMotifOnALargeBoardStaysQuiet) {
  MadeRun made = MakeRun();
  made.job.stock_S = Box({0, 0, -20}, {1000, 600, 0});
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kPass);
}

TEST(InputsTest, PathFarSmallerThanTheDesignIsCaught) {
  MadeRun made = MakeRun();
  made.job.design.depth_below_stock_mm.reset();
  made.job.design.mesh_S = Box({0, 0, -20}, {100, 100, -1});
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kPass);
  ScalePath(&made, 1.0 / 25.4);
  const CheckResult r = Check(made, CheckInputFiles);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("25.4"));
}

TEST(InputsTest, DesignInOtherUnitsThanTheStockIsCaught) {
  MadeRun made = MakeRun();
  made.job.design.mesh_S = Box({0, 0, -500}, {2540, 2540, -25.4});
  const CheckResult r = Check(made, CheckInputFiles);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].text, HasSubstr("The design spans"));
}

TEST(InputsTest, RepeatsAreANoteUnlessNothingMoves) {
  MadeRun made = MakeRun();
  made.job.path[5] = made.job.path[4];
  made.job.path[6] = made.job.path[4];
  CheckResult r = Check(made, CheckInputFiles);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("2 lines repeat the line before"));
  for (kinematics::PathLine& line : made.job.path) line.p_ST = {50, 50, -1};
  r = Check(made, CheckInputFiles);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].text, HasSubstr("All 12 lines"));
}

TEST(InputsTest, BadNumbersAreCaughtWithTheirLine) {
  for (const double bad : {std::numeric_limits<double>::quiet_NaN(), 3.0}) {
    MadeRun made = MakeRun();
    made.job.path[3].axis_S = {0, 0, bad};
    const CheckResult r = Check(made, CheckInputFiles);
    ASSERT_EQ(r.result, Result::kFail);
    EXPECT_EQ(r.findings[0].line, made.job.path[3].line);
  }
}

TEST(InputsTest, StockWithoutVolumeFailsAndFlatTrianglesAreANote) {
  MadeRun made = MakeRun();
  sim::Mesh box = sim::BoxMesh({0, 0, -20}, {100, 100, 0});
  box.triangles.push_back({0, 0, 1});
  made.job.stock_S = std::make_shared<const sim::MeshIndex>(box);
  CheckResult r = Check(made, CheckInputFiles);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("1 triangle without area"));
  for (auto& t : box.triangles) std::swap(t[0], t[1]);
  made.job.stock_S = std::make_shared<const sim::MeshIndex>(box);
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kFail);
}

// What was wrong with the stock mesh and survived is told, and fails nothing.
TEST(InputsTest, DefectsOfTheStockMeshAreNotes) {
  MadeRun made = MakeRun();
  sim::MeshDefects& found = made.job.stock_faces.defects;
  found.duplicate = 2;
  found.flipped = 1;
  found.enclosed = 7;
  found.holes = 1;
  found.hole_mm2 = 3.0;
  const CheckResult r = Check(made, CheckInputFiles);
  EXPECT_EQ(r.result, Result::kPass);
  for (const char* text : {"2 triangles more than once", "1 triangle turned the wrong way", "7 triangles inside other parts",
                           "1 hole closed here by flat faces"}) {
    EXPECT_THAT(r.why, HasSubstr(text));
  }
}

TEST(InputsTest, DesignMostlyOutsideTheStockIsCaughtAFewSamplesAreNot) {
  MadeRun made = MakeRun();
  for (int i = 0; i < 80; ++i) made.run.depths[i].has_material = false;
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kPass);
  for (int i = 0; i < 900; ++i) made.run.depths[i].has_material = false;
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kFail);
}

TEST(InputsTest, EmptyPathOrNoCutIsUnproven) {
  MadeRun made = MakeRun();
  for (kinematics::PathLine& line : made.job.path) line.move = kinematics::MoveKind::kRapid;
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kUnproven);
  made.job.path.clear();
  EXPECT_EQ(Check(made, CheckInputFiles).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
