#include "verify/report.h"

#include <cmath>
#include <fstream>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "sim/file_hash.h"
#include "sim/input_error.h"
#include "tests/support/made_report.h"
#include "verify/report_exchange.h"

namespace aircut::verify {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using support::MadeReport;
using support::MakeReport;
using testing::HasSubstr;

// A folder of its own for each test, removed afterwards.
class ReportTest : public testing::Test {
 protected:
  void SetUp() override {
    root_ = fs::path(testing::TempDir()) /
            (std::string("aircut_report_") + testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(root_);
    fs::create_directories(root_);
  }
  void TearDown() override { fs::remove_all(root_); }
  fs::path root_;
};

std::string Read(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

void Write(const fs::path& file, const std::string& text) { std::ofstream(file) << text; }

std::vector<std::string> NamesIn(const fs::path& folder) {
  std::vector<std::string> names;
  for (const auto& entry : fs::directory_iterator(folder)) names.push_back(entry.path().filename().string());
  return names;
}

// A made report with a piece: a block with one groove of a 6 mm ball.
MadeReport ReportWithPiece() {
  MadeReport made = MakeReport();
  const auto block = std::make_shared<sim::MeshIndex>(sim::BoxMesh({0, 0, -10}, {40, 30, 0}));
  sim::ToolTrack& track = made.run.track;
  track.tools.push_back({1, sim::Cutter::Ball(6, 20), {}});
  track.time_s = {0, 1};
  track.p_ST = {{10, 15, -2}, {30, 15, -2}};
  track.axis_S = {Eigen::Vector3d::UnitZ(), Eigen::Vector3d::UnitZ()};
  track.sweeps.resize(1);
  sim::CutOptions options;
  options.voxel_mm = 0.5;
  made.run.cut = sim::CutGrid(block, track, options);
  return made;
}

std::string ErrorOf(const MadeReport& made, const fs::path& folder) {
  try {
    WriteReport(made.Context(), folder);
  } catch (const sim::InputError& error) {
    return error.what();
  }
  return "";
}

// Oracle: the hashes recomputed from the files as they lie in the folder.
TEST_F(ReportTest, ListsEverySiblingWithItsHash) {
  const fs::path folder = root_ / "new" / "run";
  WriteReport(ReportWithPiece().Context(), folder);
  EXPECT_THAT(NamesIn(folder), testing::UnorderedElementsAre("report.html", "carved.ply", "moments.csv", "findings.sarif", "junit.xml",
                                                             "report.json", "figures.json", "piece.png", "finding-01.png", "finding-02.png"));
  const json report = json::parse(Read(folder / "report.json"));
  ASSERT_EQ(report["outputs"].size(), 9u);
  for (const json& output : report["outputs"]) {
    const fs::path file = folder / output["file"].get<std::string>();
    EXPECT_EQ(output["sha256"], sim::Sha256OfFile(file));
    EXPECT_EQ(output["bytes"], fs::file_size(file));
  }
  EXPECT_THAT(NamesIn(root_ / "new"), testing::ElementsAre("run"));   // nothing is left beside it
}

// Oracle: design section 10: same input, same bytes; only report.json tells times.
TEST_F(ReportTest, SameInputGivesTheSameFiles) {
  MadeReport made = ReportWithPiece();
  WriteReport(made.Context(), root_ / "a");
  made.run.stage_s["cut"] = 77;
  const ReportContext one_thread{made.job, made.run, made.deviation, made.checks, made.verdict, 0.25, 1, 1.0};
  WriteReport(one_thread, root_ / "b");
  for (const char* name : {"report.html", "carved.ply", "moments.csv", "findings.sarif", "junit.xml", "figures.json", "piece.png", "finding-01.png"}) {
    EXPECT_TRUE(Read(root_ / "a" / name) == Read(root_ / "b" / name)) << name;
  }
}

// Oracle: the page of the run itself, byte for byte, and its hash; with a file of the
// figures gone the folder is refused and the page stays.
TEST_F(ReportTest, PageIsMadeAgainFromTheDataOfTheFolder) {
  const fs::path folder = root_ / "run";
  WriteReport(ReportWithPiece().Context(), folder);
  const std::string html = Read(folder / "report.html"), report = Read(folder / "report.json");
  Write(folder / "report.html", "spoilt");
  RebuildPage(folder);
  EXPECT_TRUE(Read(folder / "report.html") == html);
  EXPECT_TRUE(Read(folder / "report.json") == report);
  Write(folder / "figures.json", "{}");
  EXPECT_THROW(RebuildPage(folder), sim::InputError);
  fs::remove(folder / "figures.json");
  EXPECT_THROW(RebuildPage(folder), sim::InputError);
  EXPECT_TRUE(Read(folder / "report.html") == html);
}

// Oracle: a changed input: a number of report.json that is changed by hand changes on the
// page, which has no other source, and report.json then holds the new page's hash.
TEST_F(ReportTest, PageTellsTheNumbersOfReportJson) {
  const fs::path folder = root_ / "run";
  WriteReport(ReportWithPiece().Context(), folder);
  json report = json::parse(Read(folder / "report.json"));
  report["removed_mm3"] = 4321987.0;
  report["checks"][4]["worst"] = 7.891;
  Write(folder / "report.json", report.dump());
  RebuildPage(folder);
  EXPECT_THAT(Read(folder / "report.html"), HasSubstr("4,322.0\u00a0cm³"));
  EXPECT_THAT(Read(folder / "report.html"), HasSubstr("7.89 ± 0.02\u00a0mm"));
  report = json::parse(Read(folder / "report.json"));
  for (const json& output : report["outputs"]) {
    if (output["file"] == "report.html") {
      EXPECT_EQ(output["sha256"], sim::Sha256OfFile(folder / "report.html"));
    }
  }
}

// Oracle: SARIF 2.1.0, section 3.27.24, baselineState, and the marks of report.json.
TEST_F(ReportTest, FindingsAreMarkedAgainstAnEarlierReport) {
  MadeReport made = MakeReport();
  ReportContext context = made.Context();
  Baseline baseline{"before", {}};
  baseline.run.verdict = "fail";
  const Finding& gouge = made.checks[4].findings[0];
  const auto at = [](const Finding& f) { return std::array<double, 3>{f.at_S->x(), f.at_S->y(), f.at_S->z()}; };
  baseline.run.findings = {{"gouge", "less deep", gouge.line, at(gouge), 1.0, 0.3},
                           {"depth", "gone since", 12, std::nullopt, 1.0, 0.3}};
  context.baseline = &baseline;
  const json report = json::parse(ReportJson(context)), sarif = json::parse(FindingsSarif(context));
  EXPECT_EQ(report["findings"][0]["since"], "grown");
  EXPECT_EQ(report["findings"][1]["since"], "new");
  ASSERT_EQ(report["baseline"]["gone"].size(), 1u);
  EXPECT_EQ(report["baseline"]["gone"][0]["text"], "gone since");
  EXPECT_EQ(sarif["runs"][0]["results"][0]["baselineState"], "updated");
  EXPECT_EQ(sarif["runs"][0]["results"][1]["baselineState"], "new");
  EXPECT_FALSE(json::parse(FindingsSarif(made.Context()))["runs"][0]["results"][0].contains("baselineState"));
}

// Oracle: nothing of the old report survives the new one.
TEST_F(ReportTest, ReplacesAnOldReportWhole) {
  const fs::path folder = root_ / "run";
  fs::create_directory(folder);
  Write(folder / "report.html", "old");
  Write(folder / "carved.ply", "old");
  WriteReport(MakeReport().Context(), folder);   // has no piece, so no carved.ply
  EXPECT_FALSE(fs::exists(folder / "carved.ply"));
  EXPECT_EQ(Read(folder / "report.html").rfind("<!doctype html>", 0), 0u);
  EXPECT_FALSE(fs::exists(root_ / "run.part"));
}

// A kill while writing leaves a half-filled folder beside the report.
TEST_F(ReportTest, ARemainderOfAKilledRunIsNoObstacle) {
  fs::create_directory(root_ / "run.part");
  Write(root_ / "run.part" / "report.html", "half");
  WriteReport(MakeReport().Context(), root_ / "run/");
  EXPECT_TRUE(fs::exists(root_ / "run" / "report.json"));
  EXPECT_FALSE(fs::exists(root_ / "run.part"));
}

// Oracle: the user's own files are still there, byte for byte.
TEST_F(ReportTest, FolderWithOtherFilesIsRefusedAndKept) {
  const fs::path folder = root_ / "mine";
  fs::create_directory(folder);
  Write(folder / "thesis.txt", "precious");
  const std::string error = ErrorOf(MakeReport(), folder);
  EXPECT_THAT(error, HasSubstr("holds 'thesis.txt'"));
  EXPECT_THAT(error, HasSubstr("name a new or empty folder"));
  EXPECT_THROW(RequireReportFolder(folder), sim::InputError);
  EXPECT_NO_THROW(RequireReportFolder(root_ / "not" / "there" / "yet"));
  EXPECT_EQ(Read(folder / "thesis.txt"), "precious");
  EXPECT_THAT(NamesIn(root_), testing::ElementsAre("mine"));
}

TEST_F(ReportTest, FolderUnderAFileIsAClearError) {
  Write(root_ / "file", "x");
  EXPECT_THAT(ErrorOf(MakeReport(), root_ / "file"), HasSubstr("is a file, not a folder"));
  EXPECT_THAT(ErrorOf(MakeReport(), root_ / "file" / "run"), HasSubstr("the report cannot be written"));
  EXPECT_EQ(Read(root_ / "file"), "x");
  EXPECT_THAT(NamesIn(root_), testing::ElementsAre("file"));
}

// Oracle: the old report stays whole when the new one fails half-way: depth
// errors that do not belong to the samples are refused after writing began.
TEST_F(ReportTest, AFailureKeepsTheOldReport) {
  const fs::path folder = root_ / "run";
  MadeReport made = ReportWithPiece();
  WriteReport(made.Context(), folder);
  const std::string old = Read(folder / "report.json");
  made.deviation.error_mm.resize(3);
  EXPECT_THROW(WriteReport(made.Context(), folder), std::invalid_argument);
  EXPECT_EQ(Read(folder / "report.json"), old);
  EXPECT_THAT(NamesIn(root_), testing::ElementsAre("run"));
}

// Oracle: the moments themselves, read back from the text.
TEST_F(ReportTest, MomentsAreWrittenWithUnitsInTheHeader) {
  const MadeReport made = MakeReport();
  std::istringstream csv(MomentsCsv(made.Context()));
  std::string line;
  std::getline(csv, line);
  EXPECT_EQ(line, "time_s,q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,x_mm,y_mm,z_mm,i,j,k,feed_mm_min,line,held_by,"
                  "removed_mm3,axial_mm,radial_mm,arc_deg,contact,chip_mm,fx_n,fy_n,fz_n,peak_most_n,power_most_w");
  const kinematics::MotionTrack& track = made.run.motion.tracks[0];
  for (std::size_t row = 0; std::getline(csv, line); ++row) {
    std::vector<double> values;
    std::istringstream cells(line);
    for (std::string cell; values.size() < 15u && std::getline(cells, cell, ',');) values.push_back(std::stod(cell));
    ASSERT_EQ(values.size(), 15u);
    ASSERT_LT(row, track.size());
    EXPECT_NEAR(values[0], track.time_s[row], 1e-5);
    EXPECT_NEAR(values[5], kinematics::DegFromRad(track.q[row][4]), 1e-5);
    EXPECT_NEAR(values[8], track.X_ST[row].translation().y(), 1e-4);
    EXPECT_NEAR(values[12], 1.0, 1e-6);
    EXPECT_NEAR(values[13], kinematics::MmPerMinFromMmPerSec(track.feed_mm_s[row]), 0.01);
    EXPECT_EQ(values[14], track.line[row]);
  }
}

// Oracle: the contact record of the sweep that ends at the moment.
TEST_F(ReportTest, MomentsTellWhatTheirSweepTookAway) {
  MadeReport made = MakeReport();
  made.run.track.sweeps.assign(10, sim::SweepInfo{});
  for (sim::SweepInfo& sweep : made.run.track.sweeps) sweep.line = 7;
  made.run.cut.contact.sweeps.assign(10, sim::SweepContact{});
  sim::SweepContact& contact = made.run.cut.contact.sweeps[2];
  made.run.cut.contact.unit_mm3 = 0.5;
  contact.removed_units = 5;
  contact.axial_mm = 1.25f;
  contact.radial_mm = 2.5f;
  contact.arc = 0x0000ff00u;   // a quarter turn
  made.run.load = sim::CuttingLoad{};
  made.run.load.of_sweep = {-1, -1, 0};
  made.run.load.sweeps.resize(1);
  sim::SweepLoad& load = made.run.load.sweeps[0];
  load.chip_most_mm = 0.05f;
  load.mean_S_n[sim::kNominal] = {1, -2, 3};
  load.peak_S_n[sim::kMost] = {3, 0, 4};
  load.power_w[sim::kMost] = 12;
  const auto row_of_the_cut = [&] {
    std::istringstream csv(MomentsCsv(made.Context()));
    std::string line;
    for (int row = 0; row < 5; ++row) std::getline(csv, line);   // header, moments 0 to 3
    return line;
  };
  EXPECT_THAT(row_of_the_cut(), testing::EndsWith(",2.5000,1.250,2.500,90.0,\"cut\",0.0500,,,,,"));
  made.run.load.force.emplace();
  EXPECT_THAT(row_of_the_cut(), testing::EndsWith(",90.0,\"cut\",0.0500,1.00,-2.00,3.00,5.00,12.0"));
}

TEST_F(ReportTest, MomentsWithoutMotionAreAHeader) {
  EXPECT_EQ(MomentsCsv(MadeReport{}.Context()), "time_s,x_mm,y_mm,z_mm,i,j,k,feed_mm_min,line,held_by,"
                                               "removed_mm3,axial_mm,radial_mm,arc_deg,contact,chip_mm,fx_n,fy_n,fz_n,peak_most_n,power_most_w\n");
}

// Oracle: SARIF 2.1.0 (OASIS, 27 March 2020), sections 3.13 to 3.30: names of
// the properties an editor reads.
TEST_F(ReportTest, SarifPointsAtTheLinesOfThePath) {
  MadeReport made = MakeReport();
  made.job.path_file = "paths/compass rose.csv";
  const json sarif = json::parse(FindingsSarif(made.Context()));
  EXPECT_EQ(sarif["version"], "2.1.0");
  const json& run = sarif["runs"][0];
  EXPECT_EQ(run["tool"]["driver"]["name"], "aircut");
  ASSERT_EQ(run["results"].size(), 2u);
  const json& gouge = run["results"][0];
  EXPECT_EQ(gouge["ruleId"], "gouge");
  EXPECT_EQ(gouge["level"], "error");
  EXPECT_EQ(run["results"][1]["level"], "note");
  EXPECT_EQ(gouge["message"]["text"], made.checks[4].findings[0].text);
  const json& place = gouge["locations"][0]["physicalLocation"];
  EXPECT_EQ(place["artifactLocation"]["uri"], "paths/compass%20rose.csv");
  EXPECT_EQ(place["region"]["startLine"], 31204);
  EXPECT_EQ(place["region"]["endLine"], 38911);
}

// Oracle: counted by hand from the made checks: 2 fail, 1 + 4 unproven and
// required, 2 pass; an unproven check must never look green.
TEST_F(ReportTest, JunitShowsFailAndUnprovenAsRed) {
  MadeReport made = MakeReport();
  std::string xml = ChecksJunit(made.Context());
  EXPECT_THAT(xml, HasSubstr("tests=\"9\" failures=\"2\" errors=\"5\" skipped=\"0\""));
  EXPECT_THAT(xml, HasSubstr("name=\"gouge\"><failure message="));
  EXPECT_THAT(xml, HasSubstr("name=\"clash\"><error message=\"unproven: "));
  made.checks[3].required = false;
  xml = ChecksJunit(made.Context());
  EXPECT_THAT(xml, HasSubstr("name=\"clash\"><error message=\"unproven: "));   // a hazard check never leaves
  made.checks[1].required = false;
  xml = ChecksJunit(made.Context());
  EXPECT_THAT(xml, HasSubstr("name=\"frame-fit\"><skipped message=\"unproven: "));
}

}  // namespace
}  // namespace aircut::verify
