#include "sim/actual_cutter.h"

#include "sim/outline_shapes.h"

namespace aircut::sim {

Cutter ActualCutter(const CellCutter& cutter) {
  if (!cutter.measured_diameter_mm) return cutter.cutter;
  const CutterOutline& typed = cutter.cutter.outline();
  const OutlineDimensions measured{*cutter.measured_diameter_mm, typed.height_mm};
  if (typed.shape == "ball") return Cutter::Of(BallOutline(measured));
  if (typed.shape == "flat") return Cutter::Of(FlatOutline(measured));
  return cutter.cutter;
}

}  // namespace aircut::sim
