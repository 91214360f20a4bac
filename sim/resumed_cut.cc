#include "sim/resumed_cut.h"

#include <set>
#include <utility>

#include "sim/cut_store.h"

namespace aircut::sim {
namespace {

std::set<std::int32_t> StopsOf(const ToolTrack& track, const ResumeRule& rule) {
  const std::int32_t sweeps = static_cast<std::int32_t>(track.sweeps.size());
  std::set<std::int32_t> stops;
  if (rule.lines.empty()) {
    for (const double share : kStateShares) stops.insert(static_cast<std::int32_t>(share * sweeps));
  }
  for (const std::int32_t line : rule.lines) {
    std::int32_t i = 0;
    while (i < sweeps && track.sweeps[static_cast<std::size_t>(i)].line < line) ++i;
    if (i < sweeps) stops.insert(i);
  }
  return stops;
}

}  // namespace

ResumedCut CutResumed(std::shared_ptr<const MeshIndex> solid_S, const ToolTrack& track,
                      CutOptions options, const ResumeRule& rule) {
  if (rule.folder.empty()) return {CutGrid(std::move(solid_S), track, options), 0};
  const CutStore store(rule.folder, *solid_S, options.voxel_mm);
  const std::optional<CutState> from = store.Find(track);
  const std::int32_t taken_up = from ? from->stop : 0;
  options.from = from ? &*from : nullptr;
  for (const std::int32_t stop : StopsOf(track, rule)) {
    if (stop > taken_up) options.keep_before.push_back(stop);
  }
  ResumedCut resumed{CutGrid(std::move(solid_S), track, options), taken_up};
  store.Save(track, taken_up, resumed.cut.kept);
  resumed.cut.kept.clear();
  return resumed;
}

}  // namespace aircut::sim
