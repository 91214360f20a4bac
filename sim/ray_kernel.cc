#include "sim/ray_kernel.h"

#include "sim/sweep_kernel.h"

namespace aircut::sim {

extern const RayKernel kRayKernelPlain;
extern const RayKernel kRayKernelAvx2;
extern const RayKernel kRayKernelAvx512;

int RayKernelCount() { return KernelCount(); }

const RayKernel& RayKernelAt(int index) {
  if (index <= 0) return kRayKernelPlain;
  return index == 1 ? kRayKernelAvx2 : kRayKernelAvx512;
}

const RayKernel& ChooseRayKernel() { return RayKernelAt(RayKernelCount() - 1); }

}  // namespace aircut::sim
