#include <cmath>
#include <map>

#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"

// The page's tables of checks, findings, blind spots and waivers.
namespace aircut::verify {
namespace {

constexpr std::size_t kMostTabs = 4;         // per row of the check table
constexpr std::size_t kMostFindings = 200;   // written out on the page

Result ResultNamed(const PageJson& word) {
  return word == "fail" ? Result::kFail : word == "pass" ? Result::kPass : Result::kUnproven;
}

std::string LimitText(const PageJson& check) {
  const std::optional<double> limit = NumberAt(check, "limit");
  if (!limit) return "–";
  std::string text = (check["sense"] == "at most" ? "≤\u00a0" : "≥\u00a0") + Plain(*limit) + UnitText(check["unit"]);
  if (check["assumed"] == true) text += "<br><span class=\"tiny\">default</span>";
  return text;
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

std::string MarginText(const PageJson& check) {
  const std::optional<double> margin = NumberAt(check, "margin"), bound = NumberAt(check, "bound");
  if (!margin) return "–";
  const std::string number = bound && *bound > 0 ? Number(*margin, DecimalsFor(*bound)) : Plain(*margin);
  return (*margin > 0 ? "+" : "") + number + UnitText(check["unit"]) + MarginBar(*margin, ValueAt(check, "limit"));
}

std::string TabsOf(const Page& page, const PageJson& check) {
  std::string tabs;
  std::size_t count = 0;
  for (const PageFinding& finding : page.findings) {
    if ((*finding.json)["check"] != check["id"]) continue;
    if (++count <= kMostTabs) tabs += Tab(finding);
  }
  if (count > kMostTabs) tabs += fmt::format(" and {} more", count - kMostTabs);
  return tabs;
}

std::string WhyText(const PageJson& check) {
  std::string text;
  if (!check["where"].get<std::string>().empty()) text += "<b>" + TextAt(check, "where") + "</b><br>";
  text += TextAt(check, "why");
  if (!check["needs"].empty()) {
    text += text.empty() ? "" : " ";
    text += "Would settle it: ";
    for (std::size_t i = 0; i < check["needs"].size(); ++i) {
      text += (i > 0 ? ", " : "") + Escaped(check["needs"][i].get<std::string>());
    }
    text += ".";
  }
  return text;
}

std::string NoteUnder(const PageJson& check) {
  std::string note;
  if (check["required"] == false) note += "<br><span class=\"tiny\">not asked for</span>";
  if (check["waived"] == true) note += "<br><span class=\"tiny\">waived, still " + TextAt(check, "result") + "</span>";
  return note;
}

std::string CheckRow(const Page& page, const PageJson& check) {
  const std::string word = check["result"];
  return fmt::format(
      "<tr class=\"{0}\"><td class=\"w nw\">{1}{0}</td><td class=\"w nw\">{2}{3}</td>"
      "<td class=\"w nw\">{4}</td><td class=\"nw\">{5}</td><td class=\"nw\">{6}</td>"
      "<td class=\"why\">{7}</td><td class=\"tags\">{8}</td></tr>\n",
      word, ShapeOf(ResultNamed(word), 13), TextAt(check, "id"), NoteUnder(check),
      Measured(NumberAt(check, "worst"), NumberAt(check, "bound"), check["unit"]), LimitText(check), MarginText(check),
      WhyText(check), TabsOf(page, check));
}

std::string LinesText(const PageJson& finding) {
  const auto whole = [](const PageJson& line) { return Number(line.get<double>(), 0); };
  const PageJson& lines = finding["lines"];
  if (lines.size() >= 2 && lines.front() != lines.back()) {
    return fmt::format("lines {}–{}", whole(lines.front()), whole(lines.back()));
  }
  return finding["line"].is_null() ? "" : "line " + whole(finding["line"]);
}

// "depth · rose.csv lines 31,204–38,911 · 17:34 · at (41.2, −78.9, −5.3) mm on the piece"
std::string PlaceText(const Page& page, const PageJson& finding) {
  std::string text = TextAt(finding, "check");
  const std::string lines = LinesText(finding);
  if (!lines.empty()) text += fmt::format(" · <code>{}</code> {}", TextAt(page.report["job"], "path_file"), lines);
  if (!finding["time_s"].is_null()) text += " · at " + ClockText(ValueAt(finding, "time_s"));
  const PageJson& at = finding["at_mm"];
  if (!at.is_null()) {
    text += fmt::format(" · ({}, {}, {}) mm on the piece", Number(at[0].get<double>(), 1), Number(at[1].get<double>(), 1),
                        Number(at[2].get<double>(), 1));
  }
  if (!finding["since"].is_null()) text += " · " + TextAt(finding, "since");
  return text;
}

std::string PictureOf(const Page& page, const PageFinding& finding) {
  for (const PageJson& picture : page.figures["findings"]) {
    if (picture["number"] != finding.number) continue;
    const std::string address = PictureAddress(page, picture["file"]);
    if (address.empty()) return "";
    return fmt::format("<img src=\"{}\" width=\"330\" height=\"220\" alt=\"{}\">", address,
                       picture["shows"] == "bodies" ? fmt::format("Finding {}: the bodies at that moment, their nearest points ringed", finding.number)
                                                    : fmt::format("Finding {}: its place on the carved piece, ringed", finding.number));
  }
  return finding.json->at("at_mm").is_null() ? "" : "<span class=\"tiny screen\">A picture: <code>aircut picture</code></span>";
}

// A cause is told in full at the first finding that has it.
std::string CauseText(const PageJson& json, int number, std::map<std::string, int>& told) {
  const std::string cause = TextAt(json, "cause");
  if (cause.empty()) return "";
  const auto [first, is_new] = told.try_emplace(cause, number);
  if (is_new) return fmt::format("<p>Probable cause in the files: {}</p>", cause);
  return fmt::format("<p class=\"again\">Probable cause in the files: as for finding {}.</p>", first->second);
}

std::string FindingItem(const Page& page, const PageFinding& finding, std::map<std::string, int>& told_causes) {
  const PageJson& json = *finding.json;
  std::string html = fmt::format("<li id=\"f{0}\" data-f=\"{0}\" tabindex=\"-1\"><span>{1}</span><div><p>{2}</p>", finding.number,
                                 Tab(finding), TextAt(json, "text"));
  html += CauseText(json, finding.number, told_causes);
  return html + fmt::format("<p class=\"why\">{}</p></div><div class=\"shot\">{}</div></li>\n", PlaceText(page, json), PictureOf(page, finding));
}

std::string GoneText(const Page& page) {
  const PageJson& baseline = page.report["baseline"];
  if (baseline.is_null()) return "";
  std::string html = fmt::format("<p class=\"note\">Held against the report in <code>{}</code> ({}): each finding is new, unchanged or grown.",
                                 TextAt(baseline, "folder"), TextAt(baseline, "verdict"));
  html += baseline["gone"].empty() ? " None of its findings is gone.</p>\n" : " Gone since then:</p>\n<ul class=\"note\">\n";
  for (const PageJson& gone : baseline["gone"]) html += fmt::format("<li>{}: {}</li>\n", TextAt(gone, "check"), TextAt(gone, "text"));
  return html + (baseline["gone"].empty() ? "" : "</ul>\n");
}

const char* StateText(const PageJson& state) {
  return state == "counts" ? "counts; the check stays as it is, and so does the verdict"
         : state == "expired" ? "does not count: its last day is over, or the day of the run is not known"
                              : "nothing to answer for: the check passes";
}

}  // namespace

std::string BlindSpotSection(const Page& page) {
  const PageJson& spots = page.report["cannot_see"];
  if (spots.empty()) return "";
  std::string html =
      "<h2>What this run cannot see</h2>\n<table><thead><tr><th scope=\"col\">what</th>"
      "<th scope=\"col\">the test on the floor that would</th></tr></thead><tbody>\n";
  for (const PageJson& spot : spots) {
    html += fmt::format("<tr><td>{}</td><td>{}</td></tr>\n", TextAt(spot, "text"), TextAt(spot, "test"));
  }
  return html + "</tbody></table>\n";
}

std::string PremiseSection(const Page& page) {
  std::string items;
  for (const PageJson& check : page.report["checks"]) {
    if (check["group"] != "premise") continue;
    items += fmt::format("<span class=\"nw\">{}{} {}</span>", ShapeOf(ResultNamed(check["result"]), 11), TextAt(check, "id"), TextAt(check, "result"));
  }
  if (items.empty()) return "";
  return "<h2>Premises: is the file the thing?</h2>\n<p class=\"premises\">" + items + "</p>\n"
         "<p class=\"note\">Each ties a number in a file to the shop floor by a second source. Where one is open, all that rests on it is open.</p>\n";
}

std::string CheckSection(const Page& page) {
  std::string html =
      "<h2>Checks</h2>\n<table class=\"checks\"><thead><tr><th scope=\"col\">result</th><th scope=\"col\">check</th><th scope=\"col\">worst</th>"
      "<th scope=\"col\">limit</th><th scope=\"col\">margin</th><th scope=\"col\">where and why</th><th scope=\"col\">finding</th></tr></thead><tbody>\n";
  for (const PageJson* check : page.checks) html += CheckRow(page, *check);
  return html + "</tbody></table>\n";
}

std::string FindingSection(const Page& page) {
  std::string html = "<h2>Findings</h2>\n";
  if (page.findings.empty()) return html + "<p class=\"note\">None.</p>\n" + GoneText(page);
  html += "<ol class=\"found\">\n";
  std::map<std::string, int> told_causes;
  for (const PageFinding& finding : page.findings) {
    if (static_cast<std::size_t>(finding.number) > kMostFindings) break;
    html += FindingItem(page, finding, told_causes);
  }
  html += "</ol>\n";
  if (page.findings.size() > kMostFindings) {
    html += fmt::format("<p class=\"note\">{} more are in report.json.</p>\n",
                        Number(static_cast<double>(page.findings.size() - kMostFindings), 0));
  }
  return html + GoneText(page);
}

std::string WaiverSection(const Page& page) {
  const PageJson& waivers = page.report["waivers"];
  if (waivers.empty()) return "";
  std::string html = "<h2>Waivers</h2>\n<p class=\"note\">Someone answers for these by name. A waiver changes no result, no verdict and no exit "
                     "code; clash and contact cannot be waived.</p>\n<table><thead><tr><th scope=\"col\">check</th><th scope=\"col\">who</th>"
                     "<th scope=\"col\">why</th><th scope=\"col\">until</th><th scope=\"col\">on the day of the run</th></tr></thead><tbody>\n";
  for (const PageJson& w : waivers) {
    html += fmt::format("<tr><td class=\"nw\">{}</td><td>{}</td><td>{}</td><td class=\"nw\">{}</td><td>{}</td></tr>\n", TextAt(w, "check"),
                        TextAt(w, "who"), TextAt(w, "why"), TextAt(w, "until"), StateText(w["state"]));
  }
  return html + "</tbody></table>\n";
}

}  // namespace aircut::verify
