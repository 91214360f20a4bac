#include "sim/path_file.h"

#include "sim/input_error.h"
#include "sim/iso6983.h"
#include "sim/pose_table.h"

namespace aircut::sim {

void ReadPathFile(const std::string& format, const std::filesystem::path& file,
                  const PathRules& rules, const PathSink& sink) {
  if (format == "pose_table") {
    for (const PoseRow& row : ReadPoseTable(file, rules.defaults)) sink.row(row);
    return;
  }
  if (format == "iso6983") return ReadIso6983(file, rules, sink);
  throw InputError(file.string() + ": format " + format + " is not computed yet");
}

}  // namespace aircut::sim
