#pragma once

#include <vector>

#include "sim/dry_run.h"
#include "verify/deviation.h"

namespace aircut::verify {

/// Depth error per vertex of the carved surface, for colouring only: that of
/// the nearest design sample, taken where the cut left it, within two sample
/// spacings. NaN farther away, where the error is unknown, and on the face
/// beside the carving unless it was cut below the design.
/// @throws std::invalid_argument if samples, depths and errors differ in number.
std::vector<float> VertexDeviation(const sim::Mesh& carved_S, const sim::Run& run,
                                   const Deviation& deviation);

}  // namespace aircut::verify
