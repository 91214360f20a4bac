#include <algorithm>
#include <string_view>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/job_parts.h"
#include "sim/path_assembly.h"
#include "sim/path_file.h"

namespace aircut::sim {
namespace {

PathDefaults ReadPathDefaults(const YamlMap& map) {
  PathDefaults defaults;
  if (const auto feed = map.Find("feed")) {
    defaults.feed_mm_s = feed->Feed_mm_s(Bound::Positive("write the feed of the cuts", 1e5));
  }
  if (const auto speed = map.Find("spindle_rpm")) {
    defaults.spindle_rpm =
        speed->Number(Bound::Within(-1e6, 1e6, "write the speed in rpm, + clockwise seen from the spindle"));
  }
  if (const auto tool = map.Find("tool")) {
    defaults.tool = tool->Integer(0, 9999, "write the number of a cutter of the cell");
  }
  return defaults;
}

// The letters as one word (CA) or as a list ([C, A]).
std::string ReadRotaryOrder(const YamlValue& value) {
  std::string order;
  if (value.IsScalar()) {
    order = value.Text();
  } else {
    for (const YamlValue& item : value.Items()) order += item.Text();
  }
  bool is_order = !order.empty() && order.size() <= 3;
  for (std::size_t i = 0; i < order.size(); ++i) {
    is_order = is_order && std::string_view("ABC").find(order[i]) != std::string_view::npos &&
               order.find(order[i]) == i;
  }
  if (!is_order) {
    value.Fail(fmt::format("= {:.40} must be letters out of A, B, C, each once: list the rotary axes from the base "
                           "outwards, such as [C, A]", order));
  }
  return order;
}

RotaryRule ReadRotary(const YamlValue& value) {
  const YamlMap map = value.Map({"order", "turns", "vector"});
  RotaryRule rule;
  if (const auto vector = map.Find("vector")) {
    vector->Word({"ijk"});
    map.Refuse({"order", "turns"}, "does not go with vector: keep the one that is meant");
    return rule;
  }
  rule.order = ReadRotaryOrder(map.At("order", "write the rotary axes from the base outwards, such as [C, A]"));
  const std::string turns = map.At("turns", "write turns: tool or turns: work").Word({"tool", "work"});
  rule.turns = turns == "tool" ? RotaryRule::Turns::kTool : RotaryRule::Turns::kWork;
  return rule;
}

}  // namespace

PathRules ReadPathRules(const YamlMap& map, const std::string& format) {
  PathRules rules;
  rules.defaults = ReadPathDefaults(map);
  if (format != "iso6983") {
    map.Refuse({"rotary", "work_offsets", "length_offsets", "modal"}, "goes with format iso6983 only: take it out");
  }
  if (format != "cutter_location") {
    map.Refuse({"second_vector"}, "goes with format cutter_location only: take it out");
  }
  if (const auto vector = map.Find("second_vector")) {
    vector->Word({"tool_x"});
    rules.second_vector = SecondVector::kToolX;
  }
  if (const auto rotary = map.Find("rotary")) rules.rotary = ReadRotary(*rotary);
  if (const auto offsets = map.Find("work_offsets")) {
    for (const auto& [number, value] :
         offsets->NumberedEntries(54, 59, "write work_offsets: {54: {position:, rotation:}}")) {
      rules.work_offsets.emplace(number, value.RigidPose());
    }
  }
  if (const auto offsets = map.Find("length_offsets")) {
    const std::string mend = "write length_offsets: {1: 40}, the length by its number";
    for (const auto& [number, value] : offsets->NumberedEntries(1, 9999, mend)) {
      rules.length_offsets_mm.emplace(number, value.Length_mm(Bound::Within(-1e4, 1e4, mend)));
    }
  }
  if (const auto modal = map.Find("modal")) rules.modal = modal->Text();
  if (const auto ignore_words = map.Find("ignore_words")) {
    if (format == "pose_table") ignore_words->Fail("does not go with a pose_table, which has no words: take it out");
    for (const YamlValue& item : ignore_words->Items()) rules.ignore_words.push_back(item.Text());
  }
  return rules;
}

void ReadPath(const YamlMap& top, const JobContext& context, Job& job) {
  const YamlMap map = top.At("path", "write {file: .., format: pose_table}")
                          .Map({"file", "format", "feed", "spindle_rpm", "tool", "at", "rotary", "work_offsets",
                                "length_offsets", "modal", "second_vector", "ignore_words"});
  job.path_format = map.At("format", "write format: pose_table, iso6983 or cutter_location")
                        .Word({"pose_table", "iso6983", "cutter_location"});
  const YamlValue name = map.At("file", "write the name of the path file");
  const PathRules rules = ReadPathRules(map, job.path_format);
  const auto file = context.files.Take(name, context.place, "path");
  job.path_file = name.Text();
  PathAssembly assembly(job.cell, ReadAt(map), file.string());
  ReadPathFile(job.path_format, file, rules,
               {[&assembly](const PoseRow& row) { assembly.Add(row); },
                [&assembly](const PathEvent& event) { assembly.Add(event); }});
  job.path = assembly.TakePath();
  job.events = assembly.TakeEvents();
  if (job.path.empty()) throw InputError(file.string() + ": the path has no pose: write at least one");
}

}  // namespace aircut::sim
