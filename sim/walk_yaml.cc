// What a job says about walking through it before and after the cut.
#include <array>

#include <fmt/format.h>

#include "sim/job_parts.h"

namespace aircut::sim {
namespace {

constexpr double kMostRaise_mm = 2000.0;
constexpr double kMostBack_mm = 1000.0;
constexpr int kMostRestarts = 10'000;
constexpr int kMostWithdrawals = 100'000;

struct CopyWord {
  const char* word;
  PathCopy copy;
};
constexpr std::array<CopyWord, 4> kCopies = {{{"joint_path", PathCopy::kJointPath},
                                              {"pose_table", PathCopy::kPoseTable},
                                              {"iso6983", PathCopy::kIso6983},
                                              {"cutter_location", PathCopy::kCutterLocation}}};

}  // namespace

AirPassRule ReadAirPass(const YamlMap& top) {
  AirPassRule rule;
  const auto value = top.Find("air_pass");
  if (!value) return rule;
  const YamlMap map = value->Map({"raise", "along"});
  if (const auto raise = map.Find("raise")) {
    rule.raise_mm = raise->Length_mm(Bound::Positive("write how far the path is raised, such as 50 mm", kMostRaise_mm));
    rule.raise_given = true;
  }
  if (const auto along = map.Find("along")) rule.along_S = along->Direction();
  return rule;
}

RestartRule ReadRestarts(const YamlMap& top) {
  RestartRule rule;
  const auto value = top.Find("restarts");
  if (!value) return rule;
  const YamlMap map = value->Map({"most", "back", "withdrawals"});
  if (const auto most = map.Find("most")) {
    rule.most = most->Integer(1, kMostRestarts, "write how many starts of cuts are solved, such as 50");
  }
  if (const auto back = map.Find("back")) {
    rule.back_mm = back->Length_mm(Bound::Positive("write how far the tool is drawn back, such as 50 mm", kMostBack_mm));
    rule.back_given = true;
  }
  if (const auto withdrawals = map.Find("withdrawals")) {
    rule.withdrawals =
        withdrawals->Integer(1, kMostWithdrawals, "write from how many cut lines drawing back is solved, such as 500");
  }
  return rule;
}

std::set<PathCopy> ReadWrite(const YamlMap& top) {
  std::set<PathCopy> copies;
  const auto value = top.Find("write");
  if (!value) return copies;
  std::vector<std::string> words;
  for (const CopyWord& copy : kCopies) words.emplace_back(copy.word);
  for (const YamlValue& item : value->Items()) {
    const std::string word = item.Word(words);
    for (const CopyWord& copy : kCopies) {
      if (word == copy.word && !copies.insert(copy.copy).second) {
        item.Fail(fmt::format("= {} is named twice: keep one", word));
      }
    }
  }
  if (copies.empty()) value->Fail("is empty: name at least one format, or take the key out");
  return copies;
}

}  // namespace aircut::sim
