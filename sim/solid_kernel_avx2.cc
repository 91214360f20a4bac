#include "sim/solid_kernel.h"

namespace aircut::sim {

#include "sim/solid_kernel_body.inc"

extern const SolidKernels kSolidAvx2;
const SolidKernels kSolidAvx2 = {&Farthest, &Height, &Bound, "avx2"};

}  // namespace aircut::sim
