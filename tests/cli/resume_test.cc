#include <fstream>
#include <iterator>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::HasSubstr;
using Json = nlohmann::json;

// What must not differ between a full run and one that goes on.
Json Comparable(const std::filesystem::path& folder) {
  Json report = Json::parse(std::ifstream(folder / "report.json"));
  report.erase("run");
  Json outputs = Json::array();
  for (const Json& file : report["outputs"]) {
    if (file["file"] != "report.html") outputs.push_back(file);   // it tells times
  }
  report["outputs"] = outputs;
  return report;
}

std::string FreeSpin(const std::string& job) { return Replaced(job, "{rule: fixed, toward: [-1, 0, 0]}", "{rule: free}"); }

class ResumeTest : public testing::Test {
 protected:
  Outcome Run(const std::string& arguments) const {
    return RunAircut("dryrun " + (folder_.path() / "tiny.job.yaml").string() + " --quiet " + arguments);
  }
  Outcome Resumed(const std::string& more = "") const {
    return Run("--resume " + States().string() + " --out " + (folder_.path() / "resumed").string() + " " + more);
  }
  std::filesystem::path States() const { return folder_.path() / "states"; }
  // The groove goes 0.05 mm deeper at its 36th millimetre: line 40 of the file.
  void Edit() const {
    folder_.Write("groove.csv", Replaced(TinyPathCsv(), "\n46,20,19,", "\n46,20,18.95,"));
  }

  const TempFolder folder_;
};

TEST_F(ResumeTest, GoesOnAfterAnEditAndSaysTheSameAsAFullRun) {
  TinyJob().WriteTo(folder_);
  EXPECT_THAT(Resumed("--save-at 10,30").out, HasSubstr("from the start"));
  Edit();
  const Outcome resumed = Resumed("--save-at 10,30");
  EXPECT_EQ(resumed.code, 0) << resumed.out << resumed.err;
  EXPECT_THAT(resumed.out, HasSubstr("went on from line 30"));
  Run("--out " + (folder_.path() / "full").string());
  EXPECT_EQ(Comparable(folder_.path() / "resumed"), Comparable(folder_.path() / "full"));
  const Json run = Json::parse(std::ifstream(folder_.path() / "resumed" / "report.json"))["run"];
  EXPECT_EQ(run["resumed_before_line"], 30);
}

TEST_F(ResumeTest, KeepsTheChoiceOfAFreeSpin) {
  TinyJob tiny;
  tiny.files["tiny.job.yaml"] = FreeSpin(tiny.files["tiny.job.yaml"]);
  tiny.WriteTo(folder_);
  Resumed("--save-at 10,30");
  Edit();
  const Outcome kept = Resumed("--save-at 10,30 --keep-before 35");
  EXPECT_EQ(kept.code, 0) << kept.out << kept.err;
  EXPECT_THAT(kept.out, HasSubstr("went on from line 30"));
}

TEST_F(ResumeTest, RefusesWhatIsNotAsItWas) {
  TinyJob().WriteTo(folder_);
  Outcome outcome = Resumed("--keep-before 20");
  EXPECT_EQ(outcome.code, 2);
  EXPECT_THAT(outcome.err, HasSubstr("run once with --resume and without --keep-before"));
  Resumed();
  Edit();
  outcome = Resumed("--keep-before 45");
  EXPECT_EQ(outcome.code, 2);
  EXPECT_THAT(outcome.err, HasSubstr("line 40 of the path is not as it was"));
  EXPECT_THAT(outcome.err, HasSubstr("name line 40 or one before it"));
  folder_.Write("tiny.cell.yaml", Replaced(TinyCellYaml(), "position: [1000, -20, 250]", "position: [1000, -20, 251]"));
  outcome = Resumed("--keep-before 20");
  EXPECT_EQ(outcome.code, 2);
  EXPECT_THAT(outcome.err, HasSubstr("leave --keep-before out"));
}

TEST_F(ResumeTest, OptionsThatNeedAFolderSaySo) {
  TinyJob().WriteTo(folder_);
  for (const char* arguments : {"--save-at 10", "--keep-before 20"}) {
    const Outcome outcome = Run(arguments);
    EXPECT_EQ(outcome.code, 2);
    EXPECT_THAT(outcome.err, HasSubstr("add --resume DIR"));
  }
  folder_.Write("states", "a file");
  EXPECT_THAT(Resumed().err, HasSubstr("is a file: name a folder"));
}

}  // namespace
}  // namespace aircut::test
