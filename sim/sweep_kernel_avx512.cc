#include "sim/sweep_kernel.h"

namespace aircut::sim {

#include "sim/sweep_kernel_body.inc"
#include "sim/profile_kernel_body.inc"
#include "sim/reach_kernel_body.inc"

extern const SweepKernels kKernelsAvx512;
const SweepKernels kKernelsAvx512 = {&RunBall, &RunString, &RunProfile, &RunReach, &OpenChunks, "avx512"};

}  // namespace aircut::sim
