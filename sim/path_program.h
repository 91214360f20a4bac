#pragma once

#include <vector>

#include "sim/path_source.h"

namespace aircut::sim {

/// A whole path in memory: what a reader hands out and a writer takes.
struct PathProgram {
  std::vector<PoseRow> rows;
  std::vector<PathEvent> events;  ///< in file order
};

}  // namespace aircut::sim
