#include "sim/ray_kernel.h"

namespace aircut::sim {

#include "sim/ray_kernel_body.inc"

extern const RayKernel kRayKernelAvx2;
const RayKernel kRayKernelAvx2 = {&ClipByCapsules, "avx2"};

}  // namespace aircut::sim
