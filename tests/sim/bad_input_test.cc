#include <string>

#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "sim/job.h"
#include "sim/read_file.h"
#include "sim/yaml_reader.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using test::TempFolder;
using test::TinyJob;

/// Faulty files as data, and the message each must give.
struct BadInput {
  std::string name;
  TinyJob files;
  std::string says;
};

BadInput ReadCase(const YamlValue& value) {
  const YamlMap map = value.Map({"name", "change", "write", "says"});
  BadInput bad;
  bad.name = map.At("name", "").Text();
  bad.says = map.At("says", "").Text();
  if (const auto writes = map.Find("write")) {
    for (const YamlValue& item : writes->Items()) {
      const YamlMap write = item.Map({"file", "text"});
      bad.files.files[write.At("file", "").Text()] = write.At("text", "").node().scalar;
    }
  }
  if (const auto changes = map.Find("change")) {
    for (const YamlValue& item : changes->Items()) {
      const YamlMap change = item.Map({"file", "from", "to"});
      bad.files.Change(change.At("file", "").Text(), change.At("from", "").Text(), change.At("to", "").node().scalar);
    }
  }
  return bad;
}

std::vector<BadInput> Cases() {
  YamlFile file;
  file.label = "bad_input.yaml";
  const YamlNode root = ParseYaml(file.label, ReadFile(std::string(AIRCUT_TEST_DATA) + "/bad_input.yaml", 1 << 20));
  std::vector<BadInput> cases;
  for (const YamlValue& item : YamlValue(file, root, "").Items()) cases.push_back(ReadCase(item));
  return cases;
}

// The message without the folder that the test made.
std::string Without(std::string text, const std::string& folder) {
  for (std::size_t at = text.find(folder); at != std::string::npos; at = text.find(folder)) {
    text.erase(at, folder.size());
  }
  return text;
}

// Oracle: the sentences of the data file, written for the person who made the fault.
TEST(BadInputTest, EveryFaultGivesItsOneSentence) {
  const std::vector<BadInput> cases = Cases();
  EXPECT_GE(cases.size(), 80u);
  for (const BadInput& bad : cases) {
    const TempFolder folder;
    const std::string job_file = bad.files.WriteTo(folder);
    std::string said = "nothing: the job was read";
    try {
      LoadJob(job_file, {});
    } catch (const InputError& error) {
      said = Without(error.what(), folder.path().string() + "/");
    }
    EXPECT_EQ(said, bad.says) << bad.name;
  }
}

}  // namespace
}  // namespace aircut::sim
