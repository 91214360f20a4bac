#include "verify/report_comparison.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/input_error.h"

namespace aircut::verify {
namespace {

using Json = nlohmann::json;

constexpr const char* kSchema = "aircut/report/1";
constexpr double kSamePlace_mm = 2.0;
// Depths carry an error of 0.001 mm each.
constexpr double kNoise_mm = 0.002;
constexpr double kNoiseShare = 0.001;

std::optional<double> NumberOf(const Json& value) {
  return value.is_number() ? std::optional<double>(value.get<double>()) : std::nullopt;
}

ReportedFinding FindingOf(const Json& json) {
  ReportedFinding f;
  f.check = json.at("check").get<std::string>();
  f.text = json.at("text").get<std::string>();
  f.line = json.at("line").is_null() ? 0 : json.at("line").get<int>();
  if (!json.at("at_mm").is_null()) f.at_mm = json.at("at_mm").get<std::array<double, 3>>();
  f.value = NumberOf(json.at("value")).value_or(0.0);
  f.limit = NumberOf(json.at("limit")).value_or(0.0);
  return f;
}

ReportedRun ReportOf(const Json& json) {
  ReportedRun report;
  report.verdict = json.at("verdict").get<std::string>();
  report.headline = json.at("headline").get<std::string>();
  report.job = json.at("job").at("name").get<std::string>();
  for (const Json& check : json.at("checks")) {
    report.checks.push_back({check.at("id").get<std::string>(), check.at("result").get<std::string>()});
  }
  for (const Json& finding : json.at("findings")) report.findings.push_back(FindingOf(finding));
  for (const char* name : {"mean_mm", "rms_mm", "p95_mm", "max_gouge_mm", "max_leftover_mm", "within_tolerance"}) {
    report.numbers.push_back({name, NumberOf(json.at("deviation").at(name))});
  }
  for (const char* name : {"cycle_time_s", "removed_mm3"}) report.numbers.push_back({name, NumberOf(json.at(name))});
  return report;
}

int Rank(const std::string& result) { return result == "pass" ? 0 : result == "unproven" ? 1 : 2; }

bool IsWorse(const NumberChange& c) {
  if (c.name == "cycle_time_s" || c.name == "removed_mm3") return false;
  if (!c.after) return c.before.has_value();
  if (!c.before) return false;
  if (c.name == "within_tolerance") return *c.after < *c.before - kNoiseShare;
  return std::abs(*c.after) > std::abs(*c.before) + kNoise_mm;
}

// Whatever the sense of the limit, a finding lies beyond it.
bool HasGrown(const ReportedFinding& before, const ReportedFinding& after) {
  const double was = std::abs(before.value - before.limit), is = std::abs(after.value - after.limit);
  return is > was + std::max(kNoise_mm, 0.01 * was);
}

// How far apart two findings are; infinite where they are not the same one.
double Apart(const ReportedFinding& a, const ReportedFinding& b) {
  constexpr double kOther = std::numeric_limits<double>::infinity();
  if (a.check != b.check || a.at_mm.has_value() != b.at_mm.has_value()) return kOther;
  if (!a.at_mm) return a.line == b.line ? (a.text == b.text ? 0.0 : 1.0) : kOther;
  double square = 0.0;
  for (std::size_t k = 0; k < 3; ++k) square += ((*a.at_mm)[k] - (*b.at_mm)[k]) * ((*a.at_mm)[k] - (*b.at_mm)[k]);
  return std::sqrt(square) <= kSamePlace_mm ? std::sqrt(square) : kOther;
}

// For each finding of `after` the same one of `before`; its count where there is none.
std::vector<std::size_t> Partners(const std::vector<ReportedFinding>& before, const std::vector<ReportedFinding>& after) {
  std::vector<char> taken(before.size(), 0);
  std::vector<std::size_t> partners;
  for (const ReportedFinding& f : after) {
    std::size_t nearest = before.size();
    double apart = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < before.size(); ++i) {
      const double d = taken[i] != 0 ? std::numeric_limits<double>::infinity() : Apart(before[i], f);
      if (d < apart) apart = d, nearest = i;
    }
    if (nearest < before.size()) taken[nearest] = 1;
    partners.push_back(nearest);
  }
  return partners;
}

std::vector<ReportedFinding> WithoutPartner(const std::vector<ReportedFinding>& before, const std::vector<std::size_t>& partners) {
  std::vector<ReportedFinding> gone;
  for (std::size_t i = 0; i < before.size(); ++i) {
    if (std::find(partners.begin(), partners.end(), i) == partners.end()) gone.push_back(before[i]);
  }
  return gone;
}

void CompareFindings(const ReportedRun& before, const ReportedRun& after, Comparison& result) {
  const std::vector<std::size_t> partners = Partners(before.findings, after.findings);
  for (std::size_t i = 0; i < partners.size(); ++i) {
    const ReportedFinding& f = after.findings[i];
    if (partners[i] == before.findings.size()) {
      result.added.push_back(f);
      continue;
    }
    const ReportedFinding& was = before.findings[partners[i]];
    result.kept.push_back({was, f, HasGrown(was, f)});
  }
  result.gone = WithoutPartner(before.findings, partners);
}

}  // namespace

ReportedRun ReadReport(const std::filesystem::path& folder) {
  const std::filesystem::path file = folder / "report.json";
  std::ifstream in(file, std::ios::binary);
  if (!std::filesystem::is_directory(folder) || !in) {
    throw sim::InputError(fmt::format("{}: there is no report.json in it: name a folder that `aircut dryrun` wrote",
                                      folder.string()));
  }
  const Json json = Json::parse(in, nullptr, false);
  if (json.is_discarded() || !json.is_object() || json.value("schema", Json()) != kSchema) {
    throw sim::InputError(fmt::format("{}: is not a whole report of the kind {}: run `aircut dryrun` again",
                                      file.string(), kSchema));
  }
  try {
    return ReportOf(json);
  } catch (const Json::exception& error) {
    throw sim::InputError(fmt::format("{}: a value is missing or of the wrong kind ({}): run `aircut dryrun` again",
                                      file.string(), error.what()));
  }
}

FindingMarks MarkFindings(const std::vector<ReportedFinding>& before, const std::vector<ReportedFinding>& after) {
  const std::vector<std::size_t> partners = Partners(before, after);
  FindingMarks marks;
  for (std::size_t i = 0; i < partners.size(); ++i) {
    const bool added = partners[i] == before.size();
    marks.since.push_back(added ? Since::kNew : HasGrown(before[partners[i]], after[i]) ? Since::kGrown : Since::kUnchanged);
  }
  marks.gone = WithoutPartner(before, partners);
  return marks;
}

bool Comparison::worse() const {
  const auto is_worse = [](const auto& change) { return change.worse; };
  return !added.empty() || std::any_of(checks.begin(), checks.end(), is_worse) ||
         std::any_of(numbers.begin(), numbers.end(), is_worse) ||
         std::any_of(kept.begin(), kept.end(), [](const FindingChange& f) { return f.grown; });
}

Comparison Compare(const ReportedRun& before, const ReportedRun& after) {
  Comparison result;
  for (const ReportedCheck& was : before.checks) {
    const auto is = std::find_if(after.checks.begin(), after.checks.end(),
                                 [&](const ReportedCheck& c) { return c.id == was.id; });
    // A check that is not there any more proves nothing.
    const std::string now = is != after.checks.end() ? is->result : "unproven";
    if (now != was.result) result.checks.push_back({was.id, was.result, now, Rank(now) > Rank(was.result)});
  }
  for (const ReportedCheck& is : after.checks) {
    const bool known = std::any_of(before.checks.begin(), before.checks.end(),
                                   [&](const ReportedCheck& c) { return c.id == is.id; });
    if (!known) result.checks.push_back({is.id, "unproven", is.result, is.result == "fail"});
  }
  CompareFindings(before, after, result);
  for (std::size_t i = 0; i < before.numbers.size(); ++i) {
    NumberChange change{before.numbers[i].name, before.numbers[i].value, after.numbers[i].value, false};
    if (change.before == change.after) continue;
    change.worse = IsWorse(change);
    result.numbers.push_back(change);
  }
  return result;
}

}  // namespace aircut::verify
