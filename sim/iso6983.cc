#include "sim/iso6983.h"

#include "sim/input_error.h"
#include "sim/iso6983_program.h"
#include "sim/iso6983_words.h"
#include "sim/path_fault.h"
#include "sim/text_lines.h"

namespace aircut::sim {
namespace {

// What the job says, before a line is read: a fault there is the job's.
template <typename Result>
Result FromRules(const std::filesystem::path& file, const std::string& key, const std::function<Result()>& make) {
  try {
    return make();
  } catch (const PathFault& fault) {
    throw InputError(file.string() + ": " + key + ": " + fault.what());
  }
}

}  // namespace

void ReadIso6983(const std::filesystem::path& file, const PathRules& rules, const PathSink& sink) {
  TextLines lines(file);
  IsoBlockReader reader = FromRules<IsoBlockReader>(file, "path.ignore_words",
                                                    [&] { return IsoBlockReader(rules.ignore_words); });
  IsoProgram program = FromRules<IsoProgram>(file, "path.rotary", [&] { return IsoProgram(rules, sink); });
  FromRules<void>(file, "path.modal = " + rules.modal, [&] { program.Start(reader.Read(rules.modal)); });
  try {
    while (lines.Next()) program.Run(reader.Read(lines.text()), lines.line());
    program.Finish();
  } catch (const PathFault& fault) {
    throw InputError(lines.Place() + ": " + fault.what());
  }
}

}  // namespace aircut::sim
