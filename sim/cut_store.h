#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/cut_state.h"
#include "sim/mesh_index.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// States of a cut on disk: a folder of files, one a state, each holding what
/// happened since the file before it. A file speaks for a stock, a voxel and the
/// very sweeps, to the last bit, that led to it; where anything differs, or a file
/// is damaged, it is passed over.
class CutStore {
 public:
  /// @param folder is made when something is saved.
  CutStore(std::filesystem::path folder, const MeshIndex& solid_S, double voxel_mm);

  /// The state after the longest run of sweeps that the track shares with a cut that
  /// was saved; nothing where they share none.
  std::optional<CutState> Find(const ToolTrack& track) const;

  /// Saves what a cut kept; files of states that do not lead to the last of them are
  /// removed: the folder belongs to one job.
  /// Each file appears whole or not at all.
  /// @param from the stop the cut went on from, 0 = the start.
  /// @param kept as GridCut::kept.
  /// @throws std::filesystem::filesystem_error when the folder cannot be written.
  void Save(const ToolTrack& track, std::int32_t from, const std::vector<CutState>& kept) const;

 private:
  std::filesystem::path folder_;
  std::string key_;   // stock and voxel
};

}  // namespace aircut::sim
