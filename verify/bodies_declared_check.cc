#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/floating_bodies.h"
#include "verify/silent_bodies.h"
#include "verify/words.h"

namespace aircut::verify {

// Silence is no error of the files: this check never fails.
CheckResult CheckBodiesDeclared(const CheckInputs& in) {
  const std::vector<std::string> silent = SilentBodies(in.job.cell, CuttersUsed(in.job));
  CheckResult r;
  r.worst = static_cast<double>(silent.size());
  r.bound = 0.0;
  r.limit = 0.0;
  r.unit = "bodies";
  r.result = silent.empty() ? Result::kPass : Result::kUnproven;
  const std::vector<std::string> floating = FloatingBodies(in.job.cell);
  if (silent.empty() && !floating.empty()) {
    r.result = Result::kUnproven;
    r.worst = static_cast<double>(floating.size());
    r.why = fmt::format("A body of the arm hangs in the air: {}. Is it drawn in the frame of its link?", List(floating));
    r.needs = {"`arm.links`: the body in the frame of its own link"};
    return r;
  }
  if (silent.empty()) {
    r.why = "Hose, dust hood, floor, fixture, obstacles, spindle, holders and links are each given "
            "or said to be absent.";
    return r;
  }
  r.why = fmt::format("Nothing was said of {}: what is there may be hit.", List(silent));
  for (const std::string& key : silent) r.needs.push_back("`" + key + "`: its shape, or `none`");
  return r;
}

}  // namespace aircut::verify
