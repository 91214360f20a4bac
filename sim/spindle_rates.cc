#include "sim/spindle_rates.h"

#include <cmath>

namespace aircut::sim {

SpindleRates SpindleRatesOf(const Job& job, const Run& run) {
  SpindleRates rates;
  for (const TrackTool& tool : run.track.tools) {
    const CellCutter& cutter = job.cell.cutters.at(tool.number);
    rates.tools.push_back({cutter.flutes, cutter.right_handed});
  }
  rates.rpm.assign(run.track.sweeps.size(), 0.0);
  const bool planned = run.executed && !run.motion.tracks.empty() &&
                       run.motion.tracks[0].path_index.size() == rates.rpm.size() + 1;
  if (!planned && rates.rpm.size() + 1 != job.path.size()) return rates;
  for (std::size_t i = 0; i < rates.rpm.size(); ++i) {
    // A sweep leads to moment i + 1, and in the written path to line i + 1.
    const int index = planned ? run.motion.tracks[0].path_index[i + 1] : static_cast<int>(i) + 1;
    if (index >= 0) rates.rpm[i] = std::abs(job.path[static_cast<std::size_t>(index)].spindle_rpm);
  }
  return rates;
}

}  // namespace aircut::sim
