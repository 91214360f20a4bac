#include "verify/silent_bodies.h"

#include <algorithm>

#include <fmt/format.h>

namespace aircut::verify {
namespace {

using sim::Declared;

bool HasLinkBody(const sim::Cell& cell, int link) {
  return std::any_of(cell.links.begin(), cell.links.end(),
                     [link](const sim::LinkBody& body) { return body.link == link && !body.shapes.empty(); });
}

// Then the foot moves too.
bool HasTrack(const sim::Cell& cell) {
  if (!cell.arm) return false;
  const auto& axes = cell.arm->externals();
  return std::any_of(axes.begin(), axes.end(),
                     [](const auto& axis) { return axis.side == kinematics::ExternalSide::kTool; });
}

const sim::CellCutter* Cutter(const sim::Cell& cell, int number) {
  const auto found = cell.cutters.find(number);
  return found != cell.cutters.end() ? &found->second : nullptr;
}

bool HolderIsSaid(const sim::CellCutter* cutter) {
  return cutter != nullptr && (!cutter->holder.empty() || cutter->holder_said == Declared::kNone);
}

}  // namespace

std::vector<std::string> SilentBodies(const sim::Cell& cell, const std::vector<int>& cutters) {
  std::vector<std::string> keys;
  const auto ask = [&keys](Declared said, const char* key) {
    if (said == Declared::kUnsaid) keys.push_back(key);
  };
  ask(cell.hose, "bodies.hose");
  ask(cell.dust_hood, "bodies.dust_hood");
  ask(cell.floor, "bodies.floor");
  ask(cell.fixture, "fixture.parts");
  ask(cell.obstacles, "obstacles");
  ask(cell.housing, "spindle.housing");
  for (const int number : cutters) {
    if (!HolderIsSaid(Cutter(cell, number))) keys.push_back(fmt::format("cutters.{}.holder", number));
  }
  const int joints = cell.arm ? static_cast<int>(cell.arm->chain().size()) : 0;
  for (int link = HasTrack(cell) ? 0 : 1; link < joints; ++link) {
    if (!HasLinkBody(cell, link)) keys.push_back(fmt::format("arm.links of link {}", link));
  }
  if (joints == 0) keys.push_back("arm.links");
  return keys;
}

}  // namespace aircut::verify
