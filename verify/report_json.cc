#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/assumed_values.h"
#include "verify/depth_uncertainty.h"
#include "verify/report_json_parts.h"

namespace aircut::verify {
namespace {

#if defined(__clang__)
constexpr const char* kCompiler = "clang++ " __clang_version__;
#else
constexpr const char* kCompiler = "g++ " __VERSION__;
#endif

const char* GroupWord(Group group) {
  switch (group) {
    case Group::kPremise: return "premise";
    case Group::kHazard: return "hazard";
    case Group::kQuality: return "quality";
  }
  return "quality";
}

Json Margin(const CheckResult& check) {
  if (!check.worst || !check.limit) return nullptr;
  const double inside = *check.limit - *check.worst;
  return Finite(check.sense == Sense::kAtMost ? inside : -inside);
}

Json CheckJson(const CheckResult& check) {
  return {{"id", check.id},
          {"group", GroupWord(check.group)},
          {"required", check.required},
          {"result", WordFor(check.result)},
          {"worst", Finite(check.worst)},
          {"bound", Finite(check.bound)},
          {"limit", Finite(check.limit)},
          {"unit", check.unit},
          {"margin", Margin(check)},
          {"assumed", check.assumed},
          {"waived", check.waived},
          {"findings", check.findings.size()},
          {"why", check.why},
          {"needs", check.needs},
          {"sense", check.sense == Sense::kAtMost ? "at most" : "at least"},
          {"where", check.where}};
}

Json FindingJson(const Finding& finding, int number) {
  return {{"number", number},
          {"check", finding.check},
          {"text", finding.text},
          {"line", finding.line > 0 ? Json(finding.line) : Json(nullptr)},
          {"lines", finding.lines},
          {"time_s", Finite(finding.time_s)},
          {"at_mm", finding.at_S ? PlaceJson(*finding.at_S) : Json(nullptr)},
          {"value", Finite(finding.value)},
          {"limit", Finite(finding.limit)},
          {"unit", finding.unit},
          {"cause", finding.cause},
          {"since", nullptr}};
}

Json DeviationJson(const Deviation& deviation) {
  // Without one measured place there is no number to tell.
  const bool known = deviation.carve_samples > deviation.unknown_samples;
  const auto told = [&](double value) { return known ? Finite(value) : Json(nullptr); };
  return {{"mean_mm", told(deviation.mean_mm)},
          {"rms_mm", told(deviation.rms_mm)},
          {"p95_mm", told(deviation.p95_mm)},
          {"max_gouge_mm", told(deviation.max_gouge_mm)},
          {"max_leftover_mm", told(deviation.max_leftover_mm)},
          {"within_tolerance", told(deviation.within_tolerance)}};
}

Json CycleTime(const kinematics::Motion& motion) {
  if (!motion.complete()) return nullptr;
  return Finite(motion.tracks.front().time_s.back());
}

Json AssumedJson(const ReportContext& context) {
  Json values = Json::array();
  for (const sim::AssumedValue& a : AssumedValues(context)) {
    values.push_back({{"key", a.key}, {"value", Finite(a.value)}, {"low", Finite(a.low)}, {"high", Finite(a.high)},
                      {"unit", a.unit}, {"source", a.source}});
  }
  return values;
}

Json ResumedBefore(const sim::Run& run) {
  if (run.sweeps_taken_up == 0) return nullptr;
  const std::size_t next = std::min(static_cast<std::size_t>(run.sweeps_taken_up), run.track.sweeps.size() - 1);
  return run.track.sweeps[next].line;
}

Json RunJson(const ReportContext& context) {
  Json stages = Json::object();
  for (const auto& [name, seconds] : context.run.stage_s) stages[name] = Finite(seconds);
  return {{"resolution_mm", Finite(context.resolution_mm)},
          {"threads", context.threads},
          {"stages", std::move(stages)},
          {"peak_mib", Finite(context.peak_mib)},
          {"resumed_before_line", ResumedBefore(context.run)},
          {"date", context.date.empty() ? Json(nullptr) : Json(context.date)},
          {"date_from", context.date.empty() ? Json(nullptr) : Json(context.date_given ? "given" : "clock")}};
}

Json UncertaintyJson(const ReportContext& context) {
  const DepthUncertainty budget = DepthUncertaintyOf({context.job, context.run, context.deviation});
  Json list = Json::array();
  for (const Uncertainty& one : budget.of) {
    list.push_back({{"source", one.source}, {"u_mm", Finite(one.u_mm)}, {"k", Finite(budget.k)}, {"shared", one.shared},
                    {"share", Finite(budget.ShareOf(one))}});
  }
  return list;
}

}  // namespace

std::string ReportJson(const ReportContext& context, const std::vector<OutputFile>& outputs) {
  Json report;
  report["schema"] = "aircut/report/1";
  report["verdict"] = WordFor(context.verdict.result);
  report["reason"] = context.verdict.reason;
  report["cannot_see"] = Json::array();
  for (const BlindSpot& spot : context.verdict.cannot_see) {
    report["cannot_see"].push_back({{"text", spot.text}, {"test", spot.test}});
  }
  report["to_sign"] = context.verdict.to_sign;
  report["checks"] = Json::array();
  report["findings"] = Json::array();
  const std::vector<int> numbers = FindingNumbers(context.checks);
  for (const CheckResult& check : context.checks) {
    report["checks"].push_back(CheckJson(check));
    for (const Finding& finding : check.findings) {
      report["findings"].push_back(FindingJson(finding, numbers[report["findings"].size()]));
    }
  }
  AddBaseline(context, &report);
  report["cycle_time_s"] = CycleTime(context.run.motion);
  report["removed_mm3"] = Finite(context.run.cut.removed_mm3);
  report["deviation"] = DeviationJson(context.deviation);
  report["features"] = FeaturesJson(context);
  report["layers"] = LayersJson(context);
  report["execution"] = ExecutionJson(context);
  report["uncertainty"] = UncertaintyJson(context);
  report["inputs"] = Json::array();
  for (const sim::InputFile& input : context.job.inputs) {
    report["inputs"].push_back({{"role", input.role}, {"file", input.file},
                                {"sha256", input.sha256}, {"bytes", input.bytes}});
  }
  report["assumed_values"] = AssumedJson(context);
  AddPageKeys(context, &report);
  report["program"] = {{"version", AIRCUT_VERSION},
                       {"build", fmt::format("{}, {}", kCompiler, AIRCUT_BUILD_TYPE)}};
  report["run"] = RunJson(context);
  report["outputs"] = Json::array();
  for (const OutputFile& output : outputs) {
    report["outputs"].push_back(
        {{"file", output.file}, {"sha256", output.sha256}, {"bytes", output.bytes}});
  }
  // A name that is not UTF-8 must not cost the user the report.
  return report.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace aircut::verify
