#include <cmath>

#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"

// The page's tables of checks, findings and blind spots.
namespace aircut::verify {
namespace {

constexpr std::size_t kMostTabs = 4;         // per row of the check table
constexpr std::size_t kMostFindings = 200;   // written out on the page

std::string LimitText(const CheckResult& check) {
  if (!check.limit) return "–";
  const char* sense = check.sense == Sense::kAtMost ? "≤\u00a0" : "≥\u00a0";
  std::string text = sense + Plain(*check.limit) + UnitText(check.unit);
  if (check.assumed) text += "<br><span class=\"tiny\">default</span>";
  return text;
}

std::optional<double> MarginOf(const CheckResult& check) {
  if (!check.worst || !check.limit) return std::nullopt;
  const double inside = *check.limit - *check.worst;
  return check.sense == Sense::kAtMost ? inside : -inside;
}

// The margin as a share of the limit: to the right inside it, to the left beyond.
std::string MarginBar(double margin, double limit) {
  const double share = margin / std::abs(limit);
  if (!std::isfinite(share)) return "";
  const double length = 40.0 * (share < -1 ? -1 : share > 1 ? 1 : share);
  return fmt::format(
      "<svg class=\"bar\" width=\"88\" height=\"9\" viewBox=\"0 0 88 9\" aria-hidden=\"true\">"
      "<path class=\"pen\" d=\"M44 0V9\"/><rect class=\"{}\" x=\"{:.1f}\" y=\"2\" width=\"{:.1f}\" "
      "height=\"5\"/></svg>",
      margin < 0 ? "alarm" : "in", length < 0 ? 44 + length : 44.0, std::abs(length));
}

std::string MarginText(const CheckResult& check) {
  const std::optional<double> margin = MarginOf(check);
  if (!margin || std::isnan(*margin)) return "–";
  const double bound = check.bound.value_or(0.0);
  const std::string number = bound > 0 ? Number(*margin, DecimalsFor(bound)) : Plain(*margin);
  return (*margin > 0 ? "+" : "") + number + UnitText(check.unit) + MarginBar(*margin, *check.limit);
}

std::string TabsOf(const Page& page, const CheckResult& check) {
  std::string tabs;
  std::size_t count = 0;
  for (const NumberedFinding& numbered : page.findings) {
    if (numbered.check != &check) continue;
    if (++count <= kMostTabs) tabs += Tab(numbered);
  }
  if (count > kMostTabs) tabs += fmt::format(" and {} more", count - kMostTabs);
  return tabs;
}

std::string WhyText(const CheckResult& check) {
  std::string text;
  if (!check.where.empty()) text += "<b>" + Escaped(check.where) + "</b><br>";
  text += Escaped(check.why);
  if (!check.needs.empty()) {
    text += text.empty() ? "" : " ";
    text += "Would settle it: ";
    for (std::size_t i = 0; i < check.needs.size(); ++i) {
      text += (i > 0 ? ", " : "") + Escaped(check.needs[i]);
    }
    text += ".";
  }
  return text;
}

std::string NoteUnder(const CheckResult& check) {
  std::string note;
  if (!check.required) note += "<br><span class=\"tiny\">not asked for</span>";
  if (check.waived) note += "<br><span class=\"tiny\">waived</span>";
  return note;
}

std::string CheckRow(const Page& page, const CheckResult& check) {
  const char* word = WordFor(check.result);
  return fmt::format(
      "<tr class=\"{0}\"><td class=\"w nw\">{1}{0}</td><td class=\"w nw\">{2}{3}</td>"
      "<td class=\"w nw\">{4}</td><td class=\"nw\">{5}</td><td class=\"nw\">{6}</td>"
      "<td class=\"why\">{7}</td><td class=\"tags\">{8}</td></tr>\n",
      word, ShapeOf(check.result, 13), Escaped(check.id), NoteUnder(check),
      Measured(check.worst, check.bound, check.unit), LimitText(check), MarginText(check),
      WhyText(check), TabsOf(page, check));
}

std::string NotComputed(const Page& page) {
  if (page.not_computed.empty()) return "";
  std::string html = fmt::format("<h3>{}Not computed yet: unproven</h3>\n", ShapeOf(Result::kUnproven, 13));
  const std::pair<Group, const char*> groups[] = {
      {Group::kPremise, "Premises"}, {Group::kHazard, "Hazards"}, {Group::kQuality, "Quality"}};
  for (const auto& [group, name] : groups) {
    std::string ids;
    for (const CheckResult* check : page.not_computed) {
      if (check->group == group) ids += (ids.empty() ? "" : " · ") + Escaped(check->id);
    }
    if (!ids.empty()) html += fmt::format("<p class=\"note\">{}: {}</p>\n", name, ids);
  }
  return html;
}

std::string LinesText(const Finding& finding) {
  const auto whole = [](int line) { return Number(line, 0); };
  if (finding.lines.size() >= 2 && finding.lines.front() != finding.lines.back()) {
    return fmt::format("lines {}–{}", whole(finding.lines.front()), whole(finding.lines.back()));
  }
  if (finding.line > 0) return "line " + whole(finding.line);
  return "";
}

// "depth · rose.csv lines 31,204–38,911 · 17:34 · at (41.2, −78.9, −5.3) mm on the piece"
std::string PlaceText(const Page& page, const Finding& finding) {
  std::string text = Escaped(finding.check);
  const std::string lines = LinesText(finding);
  if (!lines.empty()) {
    text += fmt::format(" · <code>{}</code> {}", Escaped(page.context.job.path_file), lines);
  }
  if (finding.time_s) text += " · at " + ClockText(*finding.time_s);
  if (finding.at_S) {
    text += fmt::format(" · ({}, {}, {}) mm on the piece", Number(finding.at_S->x(), 1),
                        Number(finding.at_S->y(), 1), Number(finding.at_S->z(), 1));
  }
  return text;
}

}  // namespace

std::string BlindSpotSection(const Page& page) {
  const auto& spots = page.context.verdict.cannot_see;
  if (spots.empty()) return "";
  std::string html =
      "<h2>What this run cannot see</h2>\n<table><thead><tr><th>what</th>"
      "<th>the test on the floor that would</th></tr></thead>\n";
  for (const BlindSpot& spot : spots) {
    html += fmt::format("<tr><td>{}</td><td>{}</td></tr>\n", Escaped(spot.text), Escaped(spot.test));
  }
  return html + "</table>\n";
}

std::string CheckSection(const Page& page) {
  std::string html =
      "<h2>Checks</h2>\n<table><thead><tr><th>result</th><th>check</th><th>worst</th><th>limit</th>"
      "<th>margin</th><th>where and why</th><th></th></tr></thead>\n";
  for (const CheckResult* check : page.computed) html += CheckRow(page, *check);
  return html + "</table>\n" + NotComputed(page);
}

std::string FindingSection(const Page& page) {
  std::string html = "<h2>Findings</h2>\n";
  if (page.findings.empty()) return html + "<p class=\"note\">None from the checks computed.</p>\n";
  html += "<ol>\n";
  for (const NumberedFinding& numbered : page.findings) {
    if (static_cast<std::size_t>(numbered.number) > kMostFindings) break;
    const Finding& finding = *numbered.finding;
    html += fmt::format("<li><span>{}</span><div><p>{}</p>", Tab(numbered), Escaped(finding.text));
    if (!finding.cause.empty()) {
      html += fmt::format("<p>Probable cause in the files: {}</p>", Escaped(finding.cause));
    }
    html += fmt::format("<p class=\"why\">{}</p></div></li>\n", PlaceText(page, finding));
  }
  html += "</ol>\n";
  if (page.findings.size() > kMostFindings) {
    html += fmt::format("<p class=\"note\">{} more are in report.json.</p>\n",
                        Number(static_cast<double>(page.findings.size() - kMostFindings), 0));
  }
  return html;
}

}  // namespace aircut::verify
