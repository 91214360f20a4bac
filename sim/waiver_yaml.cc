// The file in which people sign for checks that do not pass.
#include <algorithm>

#include <fmt/format.h>

#include "sim/check_ids.h"
#include "sim/job_parts.h"
#include "sim/nearest_word.h"
#include "sim/read_file.h"

namespace aircut::sim {
namespace {

std::string CheckOf(const YamlValue& value) {
  const std::string id = value.Text();
  std::vector<std::string> ids;
  for (const CheckId& check : kCheckIds) ids.emplace_back(check.id);
  if (std::find(ids.begin(), ids.end(), id) == ids.end()) {
    value.Fail(fmt::format("= {:.60} is not a check{}: mend the name", id, DidYouMean(id, ids)));
  }
  if (!CanBeWaived(id)) {
    value.Fail(fmt::format("= {} cannot be waived, since something touches that must not: take the line out and mend "
                           "the path or the cell", id));
  }
  return id;
}

std::string Written(const YamlMap& map, const char* key, const char* mend) {
  const YamlValue value = map.At(key, mend);
  const std::string text = value.Text();
  if (text.find_first_not_of(" \t") == std::string::npos) value.Fail(fmt::format("is empty: {}", mend));
  return text;
}

Waiver ReadWaiver(const YamlValue& value) {
  const YamlMap map = value.Map({"check", "who", "why", "until"});
  Waiver waiver;
  waiver.line = value.line();
  waiver.check = CheckOf(map.At("check", "write the check that is answered for"));
  waiver.who = Written(map, "who", "write the name of the person who answers for it");
  waiver.why = Written(map, "why", "write why the job may be run all the same");
  const YamlValue until = map.At("until", "write the last day on which it counts, such as 2026-12-31");
  const std::optional<Day> day = DayOf(until.Text());
  if (!day) until.Fail(fmt::format("= {:.40} is no day of the calendar: write year-month-day, such as 2026-12-31", until.Text()));
  waiver.until = *day;
  return waiver;
}

}  // namespace

std::vector<Waiver> ReadWaivers(YamlFile& yaml, const std::filesystem::path& file) {
  const YamlNode root = ParseYaml(yaml.label, ReadFile(file, YamlLimits{}.max_bytes));
  const YamlValue top_value(yaml, root, "");
  RequireKind(top_value, "waivers/1");
  const YamlMap top = top_value.Map({"aircut", "waivers"});
  std::vector<Waiver> waivers;
  for (const YamlValue& item : top.At("waivers", "list the waivers, [{check:, who:, why:, until:}]").Items()) {
    waivers.push_back(ReadWaiver(item));
  }
  return waivers;
}

}  // namespace aircut::sim
