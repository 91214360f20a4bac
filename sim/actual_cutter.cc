#include "sim/actual_cutter.h"

namespace aircut::sim {

Cutter ActualCutter(const CellCutter& cutter) {
  if (!cutter.measured_diameter_mm || cutter.cutter.shape() != CutterShape::kBall) return cutter.cutter;
  return Cutter::Ball(*cutter.measured_diameter_mm, cutter.cutter.flute_length_mm());
}

}  // namespace aircut::sim
