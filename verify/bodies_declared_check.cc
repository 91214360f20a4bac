#include <algorithm>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

bool HasLinkBody(const sim::Cell& cell, int link) {
  return std::any_of(cell.links.begin(), cell.links.end(), [&](const sim::LinkBody& body) {
    return body.link == link && !body.shapes.empty();
  });
}

// Keys of bodies that nobody spoke of. The flange may be bare: the spindle is a
// body of its own.
std::vector<std::string> Silent(const sim::Job& job) {
  const sim::Cell& cell = job.cell;
  std::vector<std::string> keys;
  const auto ask = [&](sim::Declared said, const char* key) {
    if (said == sim::Declared::kUnsaid) keys.push_back(key);
  };
  ask(cell.hose, "`bodies.hose`");
  ask(cell.dust_hood, "`bodies.dust_hood`");
  ask(cell.floor, "`bodies.floor`");
  ask(cell.fixture, "`fixture.parts`");
  ask(cell.obstacles, "`obstacles`");
  ask(cell.housing, "`spindle.housing`");
  for (const int number : CuttersUsed(job)) {
    const sim::CellCutter* cutter = FindCutter(cell, number);
    if (cutter == nullptr || (cutter->holder.empty() && cutter->holder_said != sim::Declared::kNone)) {
      keys.push_back(fmt::format("`cutters.{}.holder`", number));
    }
  }
  const int joints = cell.arm ? cell.arm->joint_count() : 0;
  for (int link = 1; link < joints; ++link) {
    if (!HasLinkBody(cell, link)) keys.push_back(fmt::format("`arm.links` of link {}", link));
  }
  if (joints == 0) keys.push_back("`arm.links`");
  return keys;
}

}  // namespace

// Silence is no error of the files: this check never fails.
CheckResult CheckBodiesDeclared(const CheckInputs& in) {
  const std::vector<std::string> silent = Silent(in.job);
  CheckResult r;
  r.worst = static_cast<double>(silent.size());
  r.bound = 0.0;
  r.limit = 0.0;
  r.unit = "bodies";
  r.result = silent.empty() ? Result::kPass : Result::kUnproven;
  if (silent.empty()) {
    r.why = "Hose, dust hood, floor, fixture, obstacles, spindle, holders and links are each given "
            "or said to be absent.";
    return r;
  }
  r.why = fmt::format("Nothing was said of {}: what is there may be hit.", List(silent));
  for (const std::string& key : silent) r.needs.push_back(key + ": its shape, or `none`");
  return r;
}

}  // namespace aircut::verify
