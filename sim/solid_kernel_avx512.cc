#include "sim/solid_kernel.h"

namespace aircut::sim {

#include "sim/solid_kernel_body.inc"

extern const SolidKernels kSolidAvx512;
const SolidKernels kSolidAvx512 = {&Farthest, &Height, &Bound, "avx512"};

}  // namespace aircut::sim
