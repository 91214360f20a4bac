// Bad input through the program: one sentence with the place, exit code 2, no
// file left. The oracle of every case is the fault that the test wrote.

#include <algorithm>
#include <functional>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::HasSubstr;

struct BadInput {
  std::string name;
  std::function<void(TinyJob&)> spoil;
  std::vector<std::string> words;    // of the sentence, place first
  std::string options;
};

void PrintTo(const BadInput& bad, std::ostream* out) { *out << bad.name; }

class BadInputTest : public testing::TestWithParam<BadInput> {};

TEST_P(BadInputTest, EndsWithOneSentenceExitCodeTwoAndNoFile) {
  const TempFolder folder;
  TinyJob tiny;
  GetParam().spoil(tiny);
  const std::string job = tiny.WriteTo(folder, "scene/");
  const auto before = Below(folder.path());
  const Outcome outcome = RunAircut("dryrun " + job + " --quiet " + GetParam().options);
  EXPECT_EQ(outcome.code, 2) << outcome.err;
  EXPECT_EQ(outcome.out, "");
  EXPECT_EQ(std::count(outcome.err.begin(), outcome.err.end(), '\n'), 1) << outcome.err;
  EXPECT_THAT(outcome.err, testing::StartsWith("aircut: "));
  for (const std::string& word : GetParam().words) EXPECT_THAT(outcome.err, HasSubstr(word));
  EXPECT_EQ(Below(folder.path()), before);
}

std::function<void(TinyJob&)> Change(const std::string& file, const std::string& from, const std::string& to) {
  return [=](TinyJob& tiny) { tiny.Change(file, from, to); };
}

std::function<void(TinyJob&)> Put(const std::string& file, const std::string& text) {
  return [=](TinyJob& tiny) { tiny.files[file] = text; };
}

std::function<void(TinyJob&)> Drop(const std::string& file) {
  return [=](TinyJob& tiny) { tiny.Drop(file); };
}

const char kCut[] = "\n11,20,19,0,0,1,600,12000,cut\n";

INSTANTIATE_TEST_SUITE_P(
    Issue, BadInputTest,
    testing::Values(
        BadInput{"MissingJob", Drop("tiny.job.yaml"), {"tiny.job.yaml: file not found", "check the name"}, ""},
        BadInput{"MissingCell", Drop("tiny.cell.yaml"), {"tiny.job.yaml:4: cell", "file not found"}, ""},
        BadInput{"MissingPath", Drop("groove.csv"), {"tiny.job.yaml:5: path.file", "file not found"}, ""},
        BadInput{"MeshNotFound", Drop("block.ply"), {"tiny.job.yaml:6: stock.mesh", "file not found"}, ""},
        BadInput{"MissingTable", Drop("touched.csv"), {"tiny.cell.yaml:39: workpiece.touched", "file not found"}, ""},
        BadInput{"WrongType", Change("tiny.job.yaml", "resolution_mm: 0.25", "resolution_mm: fine"),
                 {"tiny.job.yaml:12: resolution_mm = fine", "must be a number"}, ""},
        BadInput{"MapForAList", Change("tiny.cell.yaml", "home: [0, 25, 109, 0, 46, 0]", "home: {a: 1}"),
                 {"tiny.cell.yaml:23: arm.home", "must be a list"}, ""},
        BadInput{"UnknownKeyInTheJob", Change("tiny.job.yaml", "depth_along", "depth_allong"),
                 {"tiny.job.yaml:8: depth_allong is not a known key", "did you mean depth_along?"}, ""},
        BadInput{"UnknownKeyInTheCell", Change("tiny.cell.yaml", "rpm_limit", "rpm_limt"),
                 {"tiny.cell.yaml:35: cutters.1.rpm_limt is not a known key", "did you mean rpm_limit?"}, ""},
        BadInput{"UnitsMissing", Change("tiny.job.yaml", "units: {length: mm, angle: deg, feed: mm/min}\n", ""),
                 {"tiny.job.yaml:1: units is missing", "length: mm"}, ""},
        BadInput{"UnitMissingInTheCell", Change("tiny.cell.yaml", "{length: mm, angle: deg}", "{length: mm}"),
                 {"tiny.cell.yaml:3: units.angle is missing", "angle: deg"}, ""},
        BadInput{"NanInTheCell", Change("tiny.cell.yaml", "stick_out: 40, holder", "stick_out: .nan, holder"),
                 {"tiny.cell.yaml:35: cutters.1.stick_out = .nan", "finite"}, ""},
        BadInput{"NanInThePath", Change("groove.csv", kCut, "\n11,nan,19,0,0,1,600,12000,cut\n"),
                 {"groove.csv:5: y = nan", "finite"}, ""},
        BadInput{"NanInTheMesh", Change("block.ply", "\n60 40 20\n", "\n60 nan 20\n"),
                 {"block.ply: line 16: vertex 6 is not finite"}, ""},
        BadInput{"ToolAxisNotUnit", Change("groove.csv", kCut, "\n11,20,19,0,0,1.1,600,12000,cut\n"),
                 {"groove.csv:5: tool axis", "length 1.1", "normalise"}, ""},
        BadInput{"TooFewColumns", Change("groove.csv", kCut, "\n11,20,19,0,0,1,600,12000\n"),
                 {"groove.csv:5: the line has 8 columns, must have 9"}, ""},
        BadInput{"EmptyPath", Put("groove.csv", "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,move\n"),
                 {"groove.csv:1: the path is empty"}, ""},
        BadInput{"EmptyFileAsPath", Put("groove.csv", ""), {"groove.csv", "the table is empty"}, ""},
        BadInput{"MeshWithoutTriangles",
                 Put("block.ply",
                     "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\n"
                     "property float z\nend_header\n0 0 0\n"),
                 {"block.ply: the mesh has no triangle"}, ""},
        BadInput{"DamagedMesh", Change("block.ply", "4 3 0 4 7\n", ""), {"block.ply", "ends too early"}, ""},
        BadInput{"OpenStock",
                 [](TinyJob& tiny) {
                   tiny.Change("block.ply", "4 3 0 4 7\n", "").Change("block.ply", "face 6", "face 5");
                 },
                 {"tiny.job.yaml:6: stock.mesh = block.ply is not closed: 4 edges", "close the holes"}, ""},
        BadInput{"CutterWithoutDiameter", Change("tiny.cell.yaml", "ball, diameter: 6,", "ball,"),
                 {"tiny.cell.yaml:35: cutters.1.diameter is missing", "write the cutting diameter"}, ""},
        BadInput{"ResolutionZeroInTheJob", Change("tiny.job.yaml", "resolution_mm: 0.25", "resolution_mm: 0"),
                 {"tiny.job.yaml:12: resolution_mm = 0 must be > 0"}, ""},
        BadInput{"ResolutionZeroAsOption", [](TinyJob&) {}, {"--resolution = 0 must be > 0 mm"}, "--resolution 0"},
        BadInput{"ResolutionNegative", [](TinyJob&) {}, {"--resolution = -1 must be > 0 mm"}, "--resolution -1"},
        BadInput{"ResolutionNan", [](TinyJob&) {}, {"--resolution = nan must be > 0 mm"}, "--resolution nan"},
        BadInput{"ResolutionBeyondMemory", [](TinyJob&) {}, {"memory", "resolution"}, "--resolution 0.00005"},
        BadInput{"ThreadsNegative", [](TinyJob&) {}, {"--threads = -2 must be from 1"}, "--threads -2"},
        BadInput{"FileOutsideTheFolder", Change("tiny.job.yaml", "mesh: block.ply", "mesh: ../../etc/hostname"),
                 {"tiny.job.yaml:6: stock.mesh = ../../etc/hostname lies outside the job's folder", "--allow-outside"},
                 ""},
        BadInput{"AbsoluteFileOutside", Change("tiny.cell.yaml", "touched: touched.csv", "touched: /etc/hostname"),
                 {"tiny.cell.yaml:39: workpiece.touched = /etc/hostname lies outside"}, ""},
        BadInput{"BrokenYaml", Change("tiny.job.yaml", "spin: {rule: fixed,", "spin: {rule: fixed}}"),
                 {"tiny.job.yaml:9: not valid YAML"}, ""},
        BadInput{"UnknownTool", Change("tiny.job.yaml", "tool: 1", "tool: 7"), {"groove.csv:2: tool = 7"}, ""},
        BadInput{"UnknownCheck", Change("tiny.job.yaml", "clash, gouge", "clash, gauge"),
                 {"tiny.job.yaml:11: require[5] = gauge is not a check", "did you mean gouge?"}, ""},
        BadInput{"ReportFolderIsAFile", [](TinyJob&) {}, {"is a file, not a folder"}, "--out /dev/null"}),
    [](const auto& one) { return one.param.name; });

TEST(UsageTest, WrongUsageExitsWithTwoAndHelpWithZero) {
  EXPECT_EQ(RunAircut("").code, 2);
  EXPECT_EQ(RunAircut("dryrun").code, 2);
  EXPECT_EQ(RunAircut("dryrun a.yaml --no-such-option").code, 2);
  EXPECT_EQ(RunAircut("dryrun a.yaml --resolution fine").code, 2);
  EXPECT_EQ(RunAircut("wetrun a.yaml").code, 2);
  const Outcome help = RunAircut("--help");
  EXPECT_EQ(help.code, 0);
  EXPECT_THAT(help.out, HasSubstr("aircut dryrun scenes/transom/job.yaml"));
  const Outcome version = RunAircut("--version");
  EXPECT_EQ(version.code, 0);
  EXPECT_THAT(version.out, testing::StartsWith("aircut "));
}

}  // namespace
}  // namespace aircut::test
