// Bad input through the program: one sentence with the place, exit code 2, no
// file left. The cases are data, bad_input_cases.yaml; the oracle of each is the
// fault that it makes.

#include <algorithm>
#include <map>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/yaml_reader.h"
#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using sim::YamlNode;
using testing::HasSubstr;

using Step = std::map<std::string, std::string>;

struct BadInput {
  std::string name, options;
  std::vector<Step> steps;
  std::vector<std::string> says;
};

void PrintTo(const BadInput& bad, std::ostream* out) { *out << bad.name; }

BadInput CaseOf(const YamlNode& node) {
  BadInput bad;
  for (const auto& [key, value] : node.entries) {
    if (key == "name") bad.name = value.scalar;
    if (key == "options") bad.options = value.scalar;
    for (const YamlNode& item : value.items) {
      if (key == "says") bad.says.push_back(item.scalar);
      if (key != "steps") continue;
      Step step;
      for (const auto& [word, text] : item.entries) step[word] = text.scalar;
      bad.steps.push_back(step);
    }
  }
  return bad;
}

std::vector<BadInput> Cases() {
  const std::string file = AIRCUT_BAD_INPUT_CASES;
  const YamlNode root = sim::ParseYaml(file, TextOf(file));
  std::vector<BadInput> cases;
  for (const YamlNode& node : root.entries.at(0).second.items) cases.push_back(CaseOf(node));
  return cases;
}

std::string BytesOf(const std::string& hex) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2) bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  return bytes;
}

// What can be done before the files are written, and what only afterwards.
void SpoilTexts(const Step& step, TinyJob& tiny) {
  const std::string& what = step.at("do");
  if (what == "change") tiny.Change(step.at("file"), step.at("from"), step.at("to"));
  if (what == "write") tiny.files[step.at("file")] = step.at("text");
  if (what == "bytes") tiny.files[step.at("file")] = BytesOf(step.at("hex"));
  if (what == "drop") tiny.Drop(step.at("file"));
}

void SpoilFiles(const Step& step, const std::filesystem::path& scene) {
  const std::string& what = step.at("do");
  if (what == "link") {
    std::filesystem::remove(scene / step.at("file"));
    std::filesystem::create_symlink(step.at("to"), scene / step.at("file"));
  }
  if (what == "sparse") {
    std::ofstream(scene / step.at("file"), std::ios::binary) << step.at("text");
    std::filesystem::resize_file(scene / step.at("file"), std::stoull(step.at("bytes")));
  }
}

class BadInputTest : public testing::TestWithParam<BadInput> {};

TEST_P(BadInputTest, EndsWithOneSentenceExitCodeTwoAndNoFile) {
  const TempFolder folder;
  TinyJob tiny;
  for (const Step& step : GetParam().steps) SpoilTexts(step, tiny);
  const std::string job = tiny.WriteTo(folder, "scene/");
  for (const Step& step : GetParam().steps) SpoilFiles(step, folder.path() / "scene");
  const auto before = Below(folder.path());
  const Outcome outcome = RunAircut("dryrun " + job + " --quiet " + GetParam().options);
  EXPECT_EQ(outcome.code, 2) << outcome.out << outcome.err;
  EXPECT_EQ(outcome.out, "");
  EXPECT_EQ(std::count(outcome.err.begin(), outcome.err.end(), '\n'), 1) << outcome.err;
  EXPECT_THAT(outcome.err, testing::StartsWith("aircut: "));
  ASSERT_FALSE(GetParam().says.empty());
  for (const std::string& words : GetParam().says) EXPECT_THAT(outcome.err, HasSubstr(words));
  EXPECT_EQ(Below(folder.path()), before);
}

INSTANTIATE_TEST_SUITE_P(Cases, BadInputTest, testing::ValuesIn(Cases()),
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
