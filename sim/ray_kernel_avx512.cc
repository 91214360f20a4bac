#include "sim/ray_kernel.h"

namespace aircut::sim {

#include "sim/ray_kernel_body.inc"

extern const RayKernel kRayKernelAvx512;
const RayKernel kRayKernelAvx512 = {&ClipByCapsules, "avx512"};

}  // namespace aircut::sim
