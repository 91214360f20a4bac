#include "verify/layer_shares.h"
#include "verify/percentile.h"
#include "verify/report_json_parts.h"

// What bends, in report.json: the cut as commanded beside the cut as executed.
namespace aircut::verify {
namespace {

// 95 % of the carving lies within this of the design.
Json P95(const sim::Run& run, const std::vector<double>& top_mm) {
  std::vector<WeightedValue> values;
  for (std::size_t i = 0; i < top_mm.size(); ++i) {
    const sim::DesignSample& sample = run.samples[i];
    if (sample.role != sim::DesignSample::Role::kCarve || !run.depths[i].has_material || !std::isfinite(top_mm[i])) continue;
    values.push_back({std::abs(top_mm[i]), sample.area_mm2});
  }
  return Finite(WeightedPercentile(values, 0.95));
}

Json ExecutedP95(const sim::Run& run) {
  std::vector<double> executed_mm;
  for (const sim::RayDepth& depth : run.depths) executed_mm.push_back(depth.top_mm);
  return P95(run, executed_mm);
}

// Joint stiffness that a deflection test gave.
Json ArmTestJson(const sim::Cell& cell) {
  if (!cell.arm_fit) return nullptr;
  const sim::ArmFit& fit = *cell.arm_fit;
  return {{"file", fit.file}, {"poses", fit.poses}, {"stiffness_nm_rad", fit.stiffness_nm_rad},
          {"residual", Finite(fit.residual)}, {"band", Finite(fit.band)}};
}

}  // namespace

Json LayersJson(const ReportContext& context) {
  Json layers = Json::array();
  for (const LayerShare& share : LayerSharesOf(context.run)) {
    layers.push_back({{"layer", sim::WordFor(share.layer)}, {"signed_mm_p95", Finite(share.signed_mm_p95)},
                      {"mean_mm", Finite(share.mean_mm)}});
  }
  return layers;
}

Json ExecutionJson(const ReportContext& context) {
  const sim::Run& run = context.run;
  const sim::Execution& execution = run.execution;
  Json recuts = Json::array(), left_out = Json::array(), missing = Json::array();
  for (const sim::LayerRecut& recut : execution.recuts) {
    recuts.push_back({{"layer", sim::WordFor(recut.layer)}, {"recut_mm", Finite(recut.recut_mm)},
                      {"first_order_mm", Finite(recut.first_order_mm)}});
  }
  for (const sim::ErrorLayer layer : execution.without) left_out.push_back(sim::WordFor(layer));
  for (const sim::MissingLayer& layer : execution.missing) {
    missing.push_back({{"layer", sim::WordFor(layer.layer)}, {"why", layer.why}});
  }
  return {{"displaced", execution.displaced()},
          {"commanded_p95_mm", execution.displaced() ? P95(run, execution.nominal_top_mm) : Json(nullptr)},
          {"executed_p95_mm", ExecutedP95(run)},
          {"cuts", execution.cuts},
          {"settled", execution.settled},
          {"moved_mm", Finite(execution.moved_mm)},
          {"settled_mm", Finite(execution.settled_mm)},
          {"recuts", std::move(recuts)},
          {"arm_test", ArmTestJson(context.job.cell)},
          {"left_out", std::move(left_out)},
          {"missing", std::move(missing)}};
}

}  // namespace aircut::verify
