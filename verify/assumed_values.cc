#include "verify/assumed_values.h"

#include <fmt/format.h>

#include "sim/springs.h"
#include "verify/process_band.h"

namespace aircut::verify {

std::vector<sim::AssumedValue> AssumedValues(const ReportContext& context) {
  std::vector<sim::AssumedValue> values = context.job.cell.assumed;
  const sim::Cell& cell = context.job.cell;
  if (!cell.run_up_s && cell.switched == sim::SpindleSwitch::kByPath) {
    values.push_back({kRunUpBand.key, kRunUpBand.high, kRunUpBand.low, kRunUpBand.high, kRunUpBand.unit,
                      kRunUpBand.source});
  }
  if (context.run.load.force) {
    const auto& assumed = context.run.load.force->assumed;
    values.insert(values.end(), assumed.begin(), assumed.end());
  }
  for (const auto& [number, cutter] : cell.cutters) {
    if (cutter.strength_mpa || !context.run.load.force) continue;
    values.push_back({fmt::format("cutters.{}.strength_mpa", number), kStrengthBand.low, kStrengthBand.low,
                      kStrengthBand.high, kStrengthBand.unit, kStrengthBand.source});
  }
  if (context.run.load.force && context.run.execution.Of(sim::ErrorLayer::kTool) != nullptr) {
    for (const auto& [number, cutter] : cell.cutters) {
      if (cutter.modulus_gpa) continue;
      values.push_back({fmt::format("cutters.{}.modulus_gpa", number), sim::kSoftModulus_gpa, sim::kSoftModulus_gpa,
                        sim::kStiffModulus_gpa, "GPa", "high-speed steel to carbide, public pages on end mills"});
    }
  }
  return values;
}

}  // namespace aircut::verify
