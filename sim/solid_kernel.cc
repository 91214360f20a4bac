#include "sim/solid_kernel.h"

#include "sim/sweep_kernel.h"

namespace aircut::sim {

extern const SolidKernels kSolidPlain;
extern const SolidKernels kSolidAvx2;
extern const SolidKernels kSolidAvx512;

int SolidKernelCount() { return KernelCount(); }

const SolidKernels& SolidKernelsAt(int index) {
  if (index <= 0) return kSolidPlain;
  return index == 1 ? kSolidAvx2 : kSolidAvx512;
}

const SolidKernels& ChooseSolidKernels() {
  static const SolidKernels& widest = SolidKernelsAt(SolidKernelCount() - 1);
  return widest;
}

}  // namespace aircut::sim
