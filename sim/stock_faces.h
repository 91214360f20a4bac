#pragma once

#include <optional>
#include <vector>

#include "sim/scan_solid.h"

namespace aircut::sim {

/// How the solid of the stock was made of its mesh.
struct StockFaces {
  std::vector<FaceOrigin> origin;   ///< one per triangle of the stock; empty: all from the file
  MeshDefects defects;
  std::optional<ScanBack> back;     ///< set: the solid was made of an open scan
  bool ends_at_rim = false;         ///< the piece is known to end where the scan ends
};

}  // namespace aircut::sim
