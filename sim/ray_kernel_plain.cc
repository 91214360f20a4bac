#include "sim/ray_kernel.h"

namespace aircut::sim {

#include "sim/ray_kernel_body.inc"

extern const RayKernel kRayKernelPlain;
const RayKernel kRayKernelPlain = {&ClipByCapsules, "x86-64"};

}  // namespace aircut::sim
