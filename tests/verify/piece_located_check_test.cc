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

void PlacePiece(MadeRun* made, double rise_mm, double residual_mm) {
  sim::PieceLocation& at = made->run.location;
  at.X_SA = kinematics::Pose(Eigen::Translation3d(0, 0, rise_mm));
  at.before_mm = std::abs(rise_mm);
  at.worst_signed_mm = rise_mm;
  at.residual_mm = residual_mm;
}

// Oracle: default limit = depth limit / 3 = 0.1 mm (domain notes A2), either side.
TEST(PieceLocatedTest, OffsetEitherSideOfTheDefaultLimit) {
  MadeRun made = MakeRun();
  PlacePiece(&made, 0.0999, 0.01);
  EXPECT_EQ(Check(made, CheckPieceLocated).result, Result::kPass);
  EXPECT_TRUE(Check(made, CheckPieceLocated).needs.empty());
  PlacePiece(&made, 0.1001, 0.01);
  EXPECT_EQ(Check(made, CheckPieceLocated).result, Result::kFail);
  made.job.accept.piece_mm = {0.2, true};
  EXPECT_EQ(Check(made, CheckPieceLocated).result, Result::kPass);
}

TEST(PieceLocatedTest, SentenceSaysHowFarThePathLiesBelowOrAbove) {
  MadeRun made = MakeRun();
  PlacePiece(&made, 2.0, 0.01);
  CheckResult r = Check(made, CheckPieceLocated);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_THAT(r.findings[0].text, HasSubstr("The path lies 2.00 mm below the touched piece"));
  EXPECT_THAT(r.findings[0].text, HasSubstr("settle 6 of the 6 ways"));
  EXPECT_THAT(r.findings[0].cause, HasSubstr("too low"));
  PlacePiece(&made, -2.0, 0.01);
  r = Check(made, CheckPieceLocated);
  EXPECT_THAT(r.findings[0].text, HasSubstr("2.00 mm above"));
}

// A board of 12 triangles, two a face (see BoxMesh): its walls were drawn, one point touches
// the wall at x = 100. Where the piece is known to end there the wall is real.
TEST(PieceLocatedTest, PointsOnDrawnFacesProveNothing) {
  MadeRun made = MakeRun();
  made.job.cell.X_WS = kinematics::Pose::Identity();
  made.job.cell.touched_W = {{20, 20, 0}, {80, 30, 0}, {30, 70, 0}, {100, 50, -8}};
  made.job.stock_faces.origin.assign(12, sim::FaceOrigin::kSkirt);
  made.job.stock_faces.origin[2] = made.job.stock_faces.origin[3] = sim::FaceOrigin::kGiven;   // the top
  const CheckResult r = Check(made, CheckPieceLocated);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("1 touched point lies on faces that no scan has seen."));
  EXPECT_THAT(r.needs.at(0), HasSubstr("stock.scan.beside: air"));
  made.job.stock_faces.ends_at_rim = true;
  EXPECT_EQ(Check(made, CheckPieceLocated).result, Result::kPass);
  made.job.stock_faces.ends_at_rim = false;
  made.job.cell.touched_W.pop_back();
  EXPECT_EQ(Check(made, CheckPieceLocated).result, Result::kPass);
}

TEST(PieceLocatedTest, PointsThatFitNowhereFailAsAnotherPiece) {
  MadeRun made = MakeRun();
  PlacePiece(&made, 0.0, 0.5);
  const CheckResult r = Check(made, CheckPieceLocated);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("not of this piece"));
}

TEST(PieceLocatedTest, NoPointOrTooFewDirectionsIsUnproven) {
  MadeRun made = MakeRun();
  made.run.location.directions_seen = 3;
  CheckResult r = Check(made, CheckPieceLocated);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_FALSE(r.needs.empty());   // three ways are still open
  made.run.location.directions_seen = 2;
  r = Check(made, CheckPieceLocated);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs[0], HasSubstr("workpiece.touched"));
  PlacePiece(&made, 2.0, 0.01);
  EXPECT_EQ(Check(made, CheckPieceLocated).result, Result::kFail);
  made.run.location = {};
  r = Check(made, CheckPieceLocated);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs[0], HasSubstr("workpiece.touched"));
}

TEST(PieceLocatedTest, NotANumberIsUnproven) {
  MadeRun residual = MakeRun();
  residual.run.location.residual_mm = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Check(residual, CheckPieceLocated).result, Result::kUnproven);
  MadeRun before = MakeRun();
  before.run.location.before_mm = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Check(before, CheckPieceLocated).result, Result::kUnproven);
}

// Points round the field on the board's face, all where the frame says.
MadeRun TouchedRun() {
  MadeRun made = MakeRun();
  for (const auto& p : {Eigen::Vector3d(30, 30, 0), {70, 30, 0}, {70, 70, 0}, {30, 70, 0}, {50, 50, 0}}) {
    made.job.cell.touched_W.push_back(made.job.cell.X_WS * p);
    made.job.cell.touched_lines.push_back(static_cast<int>(made.job.cell.touched_lines.size()) + 2);
  }
  return made;
}

// Oracle: the point that was moved, by its line.
TEST(PieceLocatedTest, OnePointAloneThatDisagreesIsNamedAsASlip) {
  MadeRun made = TouchedRun();
  made.job.cell.touched_W[2] += Eigen::Vector3d(0, 0, 0.7);
  PlacePiece(&made, 0.7, 0.4);
  CheckResult r = Check(made, CheckPieceLocated);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, HasSubstr("line 4 of the touched points disagrees, by 0.70 mm"));
  made.job.cell.touched_W[3] += Eigen::Vector3d(0, 0, 0.7);   // two are no slip of one
  r = Check(made, CheckPieceLocated);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_THAT(r.findings[0].cause, testing::Not(HasSubstr("slip")));
}

// Oracle: points within 28.3 mm of (50, 50, 0); the field's corner is 14.1 mm away, and
// 92 mm after it moved 80 mm aside.
TEST(PieceLocatedTest, WorkBeyondTheTouchedPointsIsSaid) {
  MadeRun made = TouchedRun();
  EXPECT_THAT(Check(made, CheckPieceLocated).why, testing::Not(HasSubstr("beyond")));
  for (sim::DesignSample& s : made.run.samples) s.ray.p_SQ.x() += 80.0;
  EXPECT_THAT(Check(made, CheckPieceLocated).why, HasSubstr("beyond the touched points"));
}

}  // namespace
}  // namespace aircut::verify
