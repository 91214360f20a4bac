#pragma once

#include <cmath>
#include <optional>

#include <Eigen/Core>
#include <nlohmann/json.hpp>

#include "verify/checks.h"
#include "verify/report.h"

namespace aircut::verify {

// Private to the writers of report.json: its parts, one function a part.

using Json = nlohmann::ordered_json;

/// null for a number that is not finite or not known.
inline Json Finite(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }
inline Json Finite(const std::optional<double>& value) { return value ? Finite(*value) : Json(nullptr); }
inline Json PlaceJson(const Eigen::Vector3d& p) {
  return p.allFinite() ? Json::array({p.x(), p.y(), p.z()}) : Json(nullptr);
}

/// Numbers of the findings on the page, in the order of report.json's `findings`: those
/// of failed checks first, then of unproven, then of passed ones.
std::vector<int> FindingNumbers(const std::vector<CheckResult>& checks);

/// The checklist before the first cut: what this run supports, with its numbers, and
/// what only people can answer.
Json FirstCutJson(const ReportContext& context);

/// What each error layer costs, to first order; empty where nothing displaces the tool.
Json LayersJson(const ReportContext& context);

/// Limits by region, and the small things of design and cut.
Json FeaturesJson(const ReportContext& context);

/// How the cut as executed was found, beside the one as commanded.
Json ExecutionJson(const ReportContext& context);

/// Times of the motion [s] and what set the speed of the cuts; null without motion.
Json TimesJson(const ReportContext& context);

/// Limits and settings that nobody stated.
Json DefaultsJson(const ReportContext& context);

/// Signed lines, each with what becomes of it on the day of the run.
Json WaiversJson(const ReportContext& context);

/// What the findings are, one a finding in the order of report.json, and which are gone;
/// both empty without a baseline.
FindingMarks MarksOf(const ReportContext& context);

/// @returns "new", "grown" or "unchanged".
const char* SinceWord(Since since);

/// Marks findings by the run that they are held against: `new`, `unchanged` or `grown`
/// in `since`, and those that are gone in `baseline`; null without such a run.
void AddBaseline(const ReportContext& context, Json* report);

/// What the page says besides the contract's keys: names, how depth is measured, the
/// probable cause of the field, copies of the path.
void AddPageKeys(const ReportContext& context, Json* report);

}  // namespace aircut::verify
