#include <cmath>

#include <fmt/format.h>

#include "verify/layer_shares.h"
#include "verify/percentile.h"
#include "verify/report_parts.h"
#include "verify/report_text.h"
#include "verify/words.h"

// The page's section on what bends: the cut as written beside the cut as executed.
namespace aircut::verify {
namespace {

using sim::ErrorLayer;

const char* NameOf(ErrorLayer layer) {
  switch (layer) {
    case ErrorLayer::kArm: return "arm bends";
    case ErrorLayer::kSpindle: return "spindle gives";
    case ErrorLayer::kTool: return "cutter bends";
    case ErrorLayer::kFixture: return "fixture gives";
    case ErrorLayer::kLostMotion: return "joints lose motion";
    case ErrorLayer::kDrift: return "arm grows warm";
  }
  return "";
}

std::string Signed(double value_mm) { return (value_mm > 0 ? "+" : "") + Number(value_mm, 3) + "\u00a0mm"; }

// 95 % of the carving lies within this of the design.
std::string P95(const sim::Run& run, const std::vector<double>& top_mm) {
  std::vector<WeightedValue> values;
  for (std::size_t i = 0; i < top_mm.size(); ++i) {
    const sim::DesignSample& sample = run.samples[i];
    if (sample.role != sim::DesignSample::Role::kCarve || !run.depths[i].has_material || !std::isfinite(top_mm[i])) continue;
    values.push_back({std::abs(top_mm[i]), sample.area_mm2});
  }
  const auto p95 = WeightedPercentile(values, 0.95);
  return p95 ? Number(*p95, 3) + "\u00a0mm" : std::string("–");
}

std::string BothCuts(const sim::Run& run) {
  std::vector<double> executed_mm;
  for (const sim::RayDepth& depth : run.depths) executed_mm.push_back(depth.top_mm);
  return fmt::format("<table><thead><tr><th>cut</th><th>95 % of the carving within</th></tr></thead>\n"
                     "<tr><td>as commanded, nothing bends</td><td>{}</td></tr>\n"
                     "<tr><td>as executed, everything else on this page</td><td>{}</td></tr></table>\n",
                     P95(run, run.execution.nominal_top_mm), P95(run, executed_mm));
}

std::string LayerRows(const sim::Run& run) {
  std::string html = "<table><thead><tr><th>cause</th><th>costs, 95 % of the carving</th><th>on average</th></tr></thead>\n";
  for (const LayerShare& share : LayerSharesOf(run)) {
    html += fmt::format("<tr><td>{}</td><td>{}</td><td>{}</td></tr>\n", NameOf(share.layer), Signed(share.signed_mm_p95),
                        Signed(share.mean_mm));
  }
  return html + "</table>\n<p class=\"note\">To first order, along the depth direction: + leaves material standing, − cuts "
                "deeper.</p>\n";
}

std::string HowItSettled(const sim::Execution& execution) {
  const char* verdict = execution.settled ? "settled" : "did <b>not</b> settle";
  std::string html = fmt::format("<p class=\"note\">Forces and displacements {} in {}: {} mm were still open, {} mm would do.",
                                 verdict, Plural(execution.cuts, "cut"), Number(execution.moved_mm, 3),
                                 Number(execution.settled_mm, 3));
  for (const sim::LayerRecut& recut : execution.recuts) {
    html += fmt::format(" Cut once more without the largest of them ({}): {} on average, {} by the first order.",
                        NameOf(recut.layer), Signed(recut.recut_mm), Signed(recut.first_order_mm));
  }
  return html + "</p>\n";
}

}  // namespace

std::string ExecutedSection(const Page& page) {
  const sim::Run& run = page.context.run;
  const sim::Execution& execution = run.execution;
  std::string html;
  if (execution.displaced()) html += BothCuts(run) + LayerRows(run) + HowItSettled(execution);
  for (const ErrorLayer layer : execution.without) {
    html += fmt::format("<p>Left out of this run, a what-if: {}.</p>\n", sim::WordFor(layer));
  }
  if (execution.without_corner_rounding) html += "<p>Left out of this run, a what-if: corner-rounding.</p>\n";
  if (html.empty()) return "";
  for (const sim::MissingLayer& missing : execution.missing) {
    html += fmt::format("<p class=\"note\">Not in it: {}</p>\n", Escaped(missing.why));
  }
  return "<h2>As executed: what bends, and by how much</h2>\n" + html;
}

}  // namespace aircut::verify
