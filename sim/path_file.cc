#include "sim/path_file.h"

#include "sim/cutter_location.h"
#include "sim/input_error.h"
#include "sim/iso6983.h"
#include "sim/pose_table.h"

namespace aircut::sim {

void ReadPathFile(const std::string& format, const std::filesystem::path& file,
                  const PathRules& rules, const PathSink& sink) {
  if (format == "pose_table") return ReadPoseTable(file, rules, sink);
  if (format == "iso6983") return ReadIso6983(file, rules, sink);
  if (format == "cutter_location") return ReadCutterLocation(file, rules, sink);
  throw InputError(file.string() + ": format " + format +
                   " must be pose_table, iso6983 or cutter_location: mend path.format");
}

PathProgram ReadPathProgram(const std::string& format, const std::filesystem::path& file,
                            const PathRules& rules) {
  PathProgram program;
  const PathSink sink = {[&](const PoseRow& row) { program.rows.push_back(row); },
                         [&](const PathEvent& event) { program.events.push_back(event); }};
  ReadPathFile(format, file, rules, sink);
  return program;
}

}  // namespace aircut::sim
