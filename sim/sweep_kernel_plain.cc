#include "sim/sweep_kernel.h"

namespace aircut::sim {

#include "sim/sweep_kernel_body.inc"
#include "sim/profile_kernel_body.inc"
#include "sim/reach_kernel_body.inc"

extern const SweepKernels kKernelsPlain;
const SweepKernels kKernelsPlain = {&RunBall, &RunString, &RunProfile, &RunReach, &OpenChunks, "x86-64"};

}  // namespace aircut::sim
