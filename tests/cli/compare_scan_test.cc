#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "sim/mesh_import.h"
#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using Eigen::Vector3d;
using testing::HasSubstr;

// Report of the small job, once for all tests.
std::string Report() {
  static const TempFolder folder;
  static const std::string out = [] {
    TinyJob().WriteTo(folder);
    std::string report = (folder.path() / "report").string();
    RunAircut("dryrun " + (folder.path() / "tiny.job.yaml").string() + " --quiet --out " + report);
    return report;
  }();
  return out;
}

// In the middle of the groove, on its floor: see TinyPathCsv.
const Vector3d kFloor(30, 20, 19);

// The predicted surface itself as the scan, moved, and pressed in by `dent_mm` within 4 mm
// of a place on the floor of the cut.
std::string ScanWith(const TempFolder& folder, double dent_mm, double unit_mm = 1.0) {
  sim::Mesh scan = sim::ReadMesh(Report() + "/carved.ply", 1.0);
  for (Vector3d& p : scan.vertices) {
    const double r2 = (p - kFloor).squaredNorm() / 16;
    if (r2 < 1) p.z() -= dent_mm * (1 - r2);
    p = (Eigen::AngleAxisd(0.004, Vector3d(1, 2, 3).normalized()) * p + Vector3d(0.3, -0.2, 0.4)) / unit_mm;
  }
  const auto file = folder.path() / "scan.ply";
  sim::WritePly(file, scan, {});
  return file.string();
}

TEST(CompareScanTest, PieceThatIsWhatWasPredictedPasses) {
  const TempFolder folder;
  const Outcome outcome = RunAircut("compare " + Report() + " " + ScanWith(folder, 0.0));
  EXPECT_EQ(outcome.code, 0) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("Fit: rigid, least squares of points on planes"));
  EXPECT_THAT(outcome.out, HasSubstr("Residual 0.0"));
  EXPECT_THAT(outcome.out, HasSubstr("Not predicted: 0 regions"));
  EXPECT_THAT(outcome.out, HasSubstr("not of the next one"));
}

TEST(CompareScanTest, DentIsToldWithItsPlaceAndLine) {
  const TempFolder folder;
  const std::string measured = (folder.path() / "measured.ply").string();
  const Outcome outcome = RunAircut("compare " + Report() + " " + ScanWith(folder, 0.6) + " --measured " + measured);
  EXPECT_EQ(outcome.code, 1) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, testing::ContainsRegex("  deeper carving [0-9.]+ mm2, up to 0\\.[56][0-9]* mm at \\(.*\\) mm, line"));
  EXPECT_THAT(outcome.out, HasSubstr("fail: The piece is not what the run predicted"));
  EXPECT_FALSE(sim::ReadMesh(measured, 1.0).triangles.empty());
}

// Oracle: what the same comparison prints in sentences.
TEST(CompareScanTest, PageAndJsonTellWhatTheSentencesDo) {
  const TempFolder folder;
  const std::string scan = ScanWith(folder, 0.6), page = (folder.path() / "as_cut.html").string();
  const Outcome said = RunAircut("compare " + Report() + " " + scan + " --page " + page);
  EXPECT_EQ(said.code, 1) << said.err;
  EXPECT_THAT(said.out, HasSubstr("Page: " + page));
  const std::string html = TextOf(page);
  EXPECT_THAT(html, HasSubstr("The piece is not what the run predicted"));
  EXPECT_THAT(html, HasSubstr("deeper"));
  EXPECT_THAT(html, HasSubstr("data:image/png;base64,"));
  EXPECT_THAT(html, HasSubstr("not of the next one"));
  EXPECT_THAT(html, testing::Not(HasSubstr("<script")));
  const Outcome told = RunAircut("compare " + Report() + " " + scan + " --json");
  EXPECT_EQ(told.code, 1);
  const auto json = nlohmann::json::parse(told.out);
  EXPECT_EQ(json["schema"], "aircut/as-cut/1");
  EXPECT_EQ(json["result"], "fail");
  ASSERT_FALSE(json["regions"].empty());
  EXPECT_EQ(json["regions"][0]["kind"], "deeper");
  EXPECT_EQ(json["regions"][0]["place"], "carving");
  EXPECT_NEAR(json["regions"][0]["worst_mm"].get<double>(), 0.55, 0.1);
  EXPECT_NEAR(json["regions"][0]["at_mm"][0].get<double>(), kFloor.x(), 4.0);
  EXPECT_THAT(said.out, HasSubstr(fmt::format("Not predicted: {} region", json["regions"].size())));
  const Outcome quiet = RunAircut("compare " + Report() + " " + scan + " --quiet");
  EXPECT_EQ(quiet.code, 1);
  EXPECT_EQ(quiet.out, "");
  const Outcome refused = RunAircut("compare " + Report() + " " + scan + " --page as_cut.pdf");
  EXPECT_EQ(refused.code, 2);
  EXPECT_THAT(refused.err, HasSubstr(".html"));
}

TEST(CompareScanTest, UnitOfTheScanIsAskedFor) {
  const TempFolder folder;
  const std::string scan = ScanWith(folder, 0.0, 1000.0);   // in metres
  const Outcome refused = RunAircut("compare " + Report() + " " + scan);
  EXPECT_EQ(refused.code, 2);
  EXPECT_THAT(refused.err, HasSubstr("say its unit by --scan-unit (mm, cm, m, in)"));
  EXPECT_EQ(refused.out, "");
  EXPECT_EQ(RunAircut("compare " + Report() + " " + scan + " --scan-unit m").code, 0);
  const Outcome word = RunAircut("compare " + Report() + " " + scan + " --scan-unit feet");
  EXPECT_EQ(word.code, 2);
  EXPECT_THAT(word.err, HasSubstr("--scan-unit = feet must be mm, cm, m or in"));
}

TEST(CompareScanTest, WhatCannotBeComparedIsRefusedInASentence) {
  const TempFolder folder;
  const std::string scan = ScanWith(folder, 0.0), nothing = folder.path().string();
  const auto expect = [](const Outcome& outcome, const std::string& says) {
    EXPECT_EQ(outcome.code, 2);
    EXPECT_EQ(outcome.out, "");
    EXPECT_THAT(outcome.err, HasSubstr(says));
  };
  expect(RunAircut("compare " + nothing + " " + scan), "there is no report.json in it");
  expect(RunAircut("compare " + Report() + " " + nothing + "/nowhere.ply"), "nowhere.ply");
  expect(RunAircut("compare " + Report() + " " + scan + " --measured m.stl"), "--measured = m.stl must end in .ply");
  // Another surface beside the same report.
  const TempFolder other;
  for (const char* name : {"report.json", "carved.ply"}) {
    std::filesystem::copy_file(std::filesystem::path(Report()) / name, other.path() / name);
  }
  std::filesystem::copy_file(scan, other.path() / "carved.ply", std::filesystem::copy_options::overwrite_existing);
  expect(RunAircut("compare " + other.path().string() + " " + scan), "carved.ply: ");
}

}  // namespace
}  // namespace aircut::test
