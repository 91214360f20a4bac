#pragma once

#include "sim/stock.h"

namespace aircut::sim {

/// The surface of what is left, in S: dual surface of the touched bricks and
/// the untouched rest of the starting mesh, trimmed at the bricks between them.
/// A surface to look at and to measure on; not guaranteed closed at the trim.
Mesh CarvedSurface(const Stock& stock, int threads);

}  // namespace aircut::sim
