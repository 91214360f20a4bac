#pragma once

#include <cstddef>

namespace aircut::sim {

/// Fetches the pages of a large fresh block on several threads at once; else whoever
/// writes to it first does so alone. A wish: where the system cannot, nothing is lost.
void FaultIn(void* block, std::size_t bytes, int threads);

}  // namespace aircut::sim
