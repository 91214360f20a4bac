#pragma once

#include <vector>

#include "sim/dry_run.h"
#include "verify/deviation.h"

namespace aircut::verify {

/// What is told of every vertex of the carved surface, for colouring and for blame:
/// that of the nearest design sample, taken where the cut left it, within two sample
/// spacings.
struct VertexValues {
  /// Depth error; NaN farther away, where the error is unknown, and on the face
  /// beside the carving unless it was cut below the design.
  std::vector<float> deviation_mm;
  /// Path line whose sweep cut deepest there, which left the surface; NaN farther
  /// away and where nothing was cut.
  std::vector<float> line;
};

/// @throws std::invalid_argument if samples, depths and errors differ in number.
VertexValues ValuesOfVertices(const sim::Mesh& carved_S, const sim::Run& run, const Deviation& deviation);

}  // namespace aircut::verify
