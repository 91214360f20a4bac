#include "sim/sweep_kernel.h"

namespace aircut::sim {

extern const SweepKernels kKernelsPlain;
extern const SweepKernels kKernelsAvx2;
extern const SweepKernels kKernelsAvx512;

VoxelOffsets::VoxelOffsets(double voxel_mm) {
  const float h = static_cast<float>(voxel_mm);
  for (int n = 0; n < kBrickVoxels; ++n) {
    const int chunk = n / kChunkVoxels, lane = n % kChunkVoxels;
    const int i = 4 * (chunk & 1) + (lane & 3);
    const int j = 2 * (chunk >> 1 & 3) + (lane >> 2 & 1);
    const int k = 2 * (chunk >> 3) + (lane >> 3);
    x[n] = h * static_cast<float>(i);
    y[n] = h * static_cast<float>(j);
    z[n] = h * static_cast<float>(k);
    place_x[n] = i;
    place_y[n] = j;
    place_z[n] = k;
    stored[n] = static_cast<std::int16_t>(i + kBrickEdge * (j + kBrickEdge * k));
  }
  for (int c = 0; c < kChunks; ++c) {
    chunk_x[c] = x[c * kChunkVoxels] + 1.5f * h;
    chunk_y[c] = y[c * kChunkVoxels] + 0.5f * h;
    chunk_z[c] = z[c * kChunkVoxels] + 0.5f * h;
  }
  chunk_radius = 1.6584f * h;   // sqrt(1.5^2 + 0.5^2 + 0.5^2), rounded up
  kept = static_cast<float>(kTruncation_voxel) * h;
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
