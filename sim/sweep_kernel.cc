#include "sim/sweep_kernel.h"

namespace aircut::sim {

extern const SweepKernels kKernelsPlain;
extern const SweepKernels kKernelsAvx2;
extern const SweepKernels kKernelsAvx512;

VoxelOffsets::VoxelOffsets(double voxel_mm) {
  for (int n = 0; n < kBrickVoxels; ++n) {
    x[n] = static_cast<float>(voxel_mm * (n % kBrickEdge));
    y[n] = static_cast<float>(voxel_mm * (n / kBrickEdge % kBrickEdge));
    z[n] = static_cast<float>(voxel_mm * (n / (kBrickEdge * kBrickEdge)));
  }
}

int KernelCount() {
  __builtin_cpu_init();
  if (!__builtin_cpu_supports("avx2")) return 1;
  const bool wide = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
                    __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512bw");
  return wide ? 3 : 2;
}

const SweepKernels& KernelsAt(int index) {
  if (index <= 0) return kKernelsPlain;
  return index == 1 ? kKernelsAvx2 : kKernelsAvx512;
}

const SweepKernels& ChooseKernels() { return KernelsAt(KernelCount() - 1); }

}  // namespace aircut::sim
