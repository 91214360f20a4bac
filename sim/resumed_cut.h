#pragma once

#include <filesystem>
#include <vector>

#include "sim/swept_cut.h"

namespace aircut::sim {

/// Where the states of a cut are kept from run to run.
struct ResumeRule {
  std::filesystem::path folder;          ///< empty: nothing is kept and nothing taken up
  std::vector<std::int32_t> lines;       ///< path lines before which a state is kept; empty: kStateShares
};

/// Shares of the sweeps after which a state is kept where no line was named.
inline constexpr double kStateShares[] = {0.5, 0.75, 0.9};

struct ResumedCut {
  GridCut cut;
  std::int32_t taken_up = 0;             ///< sweeps that an earlier run had done; 0 = none
};

/// CutGrid that takes up an earlier run where their sweeps part, and keeps its own
/// states for the next one. The same cut, to the last bit, as without.
/// @throws as CutGrid, and std::filesystem::filesystem_error when the folder cannot
/// be written.
ResumedCut CutResumed(std::shared_ptr<const MeshIndex> solid_S, const ToolTrack& track,
                      CutOptions options, const ResumeRule& rule);

}  // namespace aircut::sim
