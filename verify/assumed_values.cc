#include "verify/assumed_values.h"

#include "verify/process_band.h"

namespace aircut::verify {

std::vector<sim::AssumedValue> AssumedValues(const ReportContext& context) {
  std::vector<sim::AssumedValue> values = context.job.cell.assumed;
  const sim::Cell& cell = context.job.cell;
  if (!cell.run_up_s && cell.switched == sim::SpindleSwitch::kByPath) {
    values.push_back({kRunUpBand.key, kRunUpBand.high, kRunUpBand.low, kRunUpBand.high, kRunUpBand.unit,
                      kRunUpBand.source});
  }
  return values;
}

}  // namespace aircut::verify
