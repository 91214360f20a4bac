#include "sim/solid_kernel.h"

namespace aircut::sim {

#include "sim/solid_kernel_body.inc"

extern const SolidKernels kSolidPlain;
const SolidKernels kSolidPlain = {&Farthest, &Height, &Bound, "x86-64"};

}  // namespace aircut::sim
