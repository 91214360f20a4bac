#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "tests/support/scanned_board.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using sim::Declared;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

void SetStock(MadeRun* made, const sim::Mesh& mesh) {
  made->job.stock_S = std::make_shared<const sim::MeshIndex>(mesh);
}

// The made job on a board scanned from above at 1 mm; the field is from 40 to 60 mm.
MadeRun ScannedRun() {
  MadeRun made = MakeRun();
  made.job.scan.said = Declared::kGiven;
  made.job.scan.one_sided = true;
  made.job.scan.seen_from_S = Vector3d::UnitZ();
  SetStock(&made, support::ScannedBoard(100, 1.0));
  return made;
}

TEST(ScanSupportCheckTest, UnsaidIsUnprovenAndNotAScanPasses) {
  MadeRun made = ScannedRun();
  made.job.scan = {};
  CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("stock.scan"));
  made.job.scan.said = Declared::kNone;
  r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("not a scan"));
}

TEST(ScanSupportCheckTest, EvenScanUnderTheCutPasses) {
  const CheckResult r = Check(ScannedRun(), CheckScanSupport);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_THAT(r.why, HasSubstr("The scan, 1.00 mm fine, holds under the whole cut."));
  EXPECT_EQ(*r.worst, 0.0);
}

TEST(ScanSupportCheckTest, OneSidedWithoutDirectionOrNothingToCarveIsUnproven) {
  MadeRun made = ScannedRun();
  made.job.scan.seen_from_S.reset();
  CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("seen_from"));
  MadeRun spare = ScannedRun();
  for (sim::DesignSample& s : spare.run.samples) s.role = sim::DesignSample::Role::kSpare;
  EXPECT_EQ(Check(spare, CheckScanSupport).result, Result::kUnproven);
}

// Oracle: the field of 20 x 20 mm, looked at from below: all of it was never seen.
TEST(ScanSupportCheckTest, CutOnTheFarSideFails) {
  MadeRun made = ScannedRun();
  made.job.scan.seen_from_S = -Vector3d::UnitZ();
  const CheckResult r = Check(made, CheckScanSupport);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_NEAR(*r.worst, 400.0, 1e-9);
  EXPECT_THAT(r.findings.at(0).text, HasSubstr("never looked"));
  EXPECT_TRUE(r.findings[0].at_S.has_value());
}

TEST(ScanSupportCheckTest, FilledHoleUnderTheCutIsUnprovenWithItsPlaceBesideItIsQuiet) {
  MadeRun made = ScannedRun();
  SetStock(&made, support::BoardWithFilledHole(100, 1.0, 45, 55));
  CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("far larger than the scan's own spacing"));
  // The faces of the fan that are longer than 4 mm cover most of the 100 mm2, in or on
  // which 21 x 21 samples of 0.25 mm2 lie.
  EXPECT_GT(*r.worst, 80.0);
  EXPECT_LE(*r.worst, 21 * 21 * 0.25);
  EXPECT_FALSE(r.needs.empty());
  SetStock(&made, support::BoardWithFilledHole(100, 1.0, 20, 35));
  EXPECT_EQ(Check(made, CheckScanSupport).result, Result::kPass);
}

// Oracle: a vertex of the 1 mm grid touches 6 faces of 0.5 mm2: 3 mm2 under samples
// of 0.25 mm2. Depth limit 0.3 mm, so 0.1 mm is where a spike begins (A19).
TEST(ScanSupportCheckTest, SpikeUnderTheCutFailsEitherSideOfItsLimit) {
  for (const double spike_mm : {0.09, 0.2}) {
    MadeRun made = ScannedRun();
    sim::Mesh mesh = support::ScannedBoard(100, 1.0);
    mesh.vertices[50 * 101 + 50].z() += spike_mm;
    SetStock(&made, mesh);
    const CheckResult r = Check(made, CheckScanSupport);
    if (spike_mm < 0.1) {
      EXPECT_EQ(r.result, Result::kPass) << r.why;
      continue;
    }
    ASSERT_EQ(r.result, Result::kFail) << r.why;
    EXPECT_NEAR(*r.worst, 3.0, 1.5);
    ASSERT_TRUE(r.findings.at(0).at_S.has_value());
    EXPECT_LT((*r.findings[0].at_S - Vector3d(50, 50, 0)).norm(), 2.0);
  }
  MadeRun away = ScannedRun();   // the same spike beside the cut
  sim::Mesh mesh = support::ScannedBoard(100, 1.0);
  mesh.vertices[20 * 101 + 20].z() += 5.0;
  SetStock(&away, mesh);
  EXPECT_EQ(Check(away, CheckScanSupport).result, Result::kPass);
}

// Oracle: the scan ends at 100 mm, one spacing before it the rim begins.
TEST(ScanSupportCheckTest, CutAtTheRimIsUnprovenJustInsideIsQuiet) {
  MadeRun made = ScannedRun();
  for (sim::DesignSample& s : made.run.samples) s.ray.p_SQ.x() += 39.0;   // to 98.5
  EXPECT_EQ(Check(made, CheckScanSupport).result, Result::kPass);
  for (sim::DesignSample& s : made.run.samples) s.ray.p_SQ.x() += 1.0;    // to 99.5
  const CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kUnproven) << r.why;
  EXPECT_THAT(r.why, HasSubstr("rim"));
}

// An open scan of 100 x 100 mm whose middle was bridged: the field lies under the bridge.
TEST(ScanSupportCheckTest, CutUnderABridgeIsUnprovenWithItsPlace) {
  MadeRun made = ScannedRun();
  const sim::Mesh board = support::BoardWithFilledHole(100, 1.0, 30, 70);
  SetStock(&made, board);
  // The fan over the hole stands after the 100 * 100 - 40 * 40 halved squares.
  made.job.stock_faces.origin.assign(board.triangles.size(), sim::FaceOrigin::kGiven);
  const std::size_t first = 2 * (100 * 100 - 40 * 40);
  std::fill_n(made.job.stock_faces.origin.begin() + first, 158, sim::FaceOrigin::kBridge);
  const CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kUnproven) << r.why;
  EXPECT_THAT(r.why, HasSubstr("drawn to close the stock"));
  EXPECT_NEAR(*r.worst, 400.0, 1e-9);
  ASSERT_FALSE(r.findings.empty());
  EXPECT_TRUE(r.findings[0].at_S.has_value());
}

TEST(ScanSupportCheckTest, UnseenSpaceThatThePathEntersIsUnprovenWithLineTimePlaceAndAct) {
  MadeRun made = ScannedRun();
  made.run.unseen_cut.emplace();
  EXPECT_EQ(Check(made, CheckScanSupport).result, Result::kPass);
  sim::UnseenShare share;
  share.travel_mm = 12.0;
  share.first_line = 5;
  share.last_line = 7;
  share.deepest_mm = 1.5;
  share.time_s = 4.25;
  share.at_S = {41, 42, -1};
  share.removed_mm3 = 30.0;
  made.run.unseen_cut->shares[static_cast<std::size_t>(sim::Seen::kBeside)] = share;
  const CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("beside the rim"));
  EXPECT_THAT(r.why, HasSubstr("12.0 mm of it, lines 5 to 7, deepest 1.50 mm at (41.0, 42.0, -1.0) mm; 30 mm³"));
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_EQ(r.findings[0].line, 5);
  EXPECT_EQ(r.findings[0].time_s, 4.25);
  EXPECT_EQ(*r.findings[0].at_S, share.at_S);
  EXPECT_THAT(r.needs.at(0), HasSubstr("stock.scan.beside: air"));
}

// A hole of a stock that is no scan, closed here: 20 x 20 mm of it cut is more than the
// region that counts, half a square millimetre is not.
TEST(ScanSupportCheckTest, HoleOfAStockThatIsNoScanCountsByItsArea) {
  MadeRun made = ScannedRun();
  made.job.scan.said = Declared::kNone;
  made.run.unseen.assign(made.run.samples.size(), 0);
  made.run.unseen[0] = made.run.unseen[1] = 1;
  EXPECT_EQ(Check(made, CheckScanSupport).result, Result::kPass);
  std::fill(made.run.unseen.begin(), made.run.unseen.end(), std::uint8_t{1});
  const CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_NEAR(*r.worst, 400.0, 1e-9);
  EXPECT_THAT(r.why, HasSubstr("holes of the stock mesh"));
}

// What is smaller than the region that counts is said and does not decide.
TEST(ScanSupportCheckTest, SmallPlaceIsANote) {
  MadeRun made = ScannedRun();
  sim::Mesh mesh = support::ScannedBoard(100, 1.0);
  mesh.vertices[50 * 101 + 50].z() += 0.2;
  SetStock(&made, mesh);
  made.job.accept.region_mm2 = {10.0, true};
  const CheckResult r = Check(made, CheckScanSupport);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("too small to count"));
  EXPECT_FALSE(r.assumed);
}

}  // namespace
}  // namespace aircut::verify
