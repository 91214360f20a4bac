#include "verify/compare_page.h"

#include <filesystem>
#include <fstream>
#include <sstream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "verify/report_parts.h"
#include "verify/report_text.h"

namespace aircut::verify {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

Result ResultNamed(const std::string& word) {
  return word == "fail" ? Result::kFail : word == "pass" ? Result::kPass : Result::kUnproven;
}

std::string ResultText(const std::string& word) { return ShapeOf(ResultNamed(word), 13) + Escaped(word); }

std::string PictureOf(const ReadRun& read, const char* when) {
  std::ifstream stream(fs::path(read.folder) / "piece.png", std::ios::binary);
  if (!stream) return "";
  std::ostringstream bytes;
  bytes << stream.rdbuf();
  const std::string png = bytes.str();
  return fmt::format("<figure><img class=\"wide\" src=\"data:image/png;base64,{}\" alt=\"Depth error over the carved piece, {}\">"
                     "<figcaption>{}: {}</figcaption></figure>\n",
                     Base64({png.begin(), png.end()}), when, when, Escaped(read.folder));
}

std::string ChecksTable(const Comparison& c) {
  if (c.checks.empty()) return "<p class=\"note\">No check has another result.</p>\n";
  std::string html = "<table><thead><tr><th scope=\"col\">check</th><th scope=\"col\">before</th><th scope=\"col\">after</th><th scope=\"col\">so it is</th></tr></thead><tbody>\n";
  for (const CheckChange& check : c.checks) {
    html += fmt::format("<tr><td>{}</td><td class=\"nw\">{}</td><td class=\"nw\">{}</td><td>{}</td></tr>\n", Escaped(check.id),
                        ResultText(check.before), ResultText(check.after), check.worse ? "<b>worse</b>" : "no worse");
  }
  return html + "</tbody></table>\n";
}

std::string FindingRow(const char* word, const ReportedFinding& f, const std::string& more = "") {
  return fmt::format("<tr><td class=\"nw\"><b>{}</b></td><td class=\"nw\">{}</td><td>{}{}</td></tr>\n", word, Escaped(f.check), Escaped(f.text), more);
}

std::string FindingsTable(const Comparison& c) {
  std::string rows;
  for (const ReportedFinding& f : c.added) rows += FindingRow("new", f);
  for (const FindingChange& f : c.kept) {
    if (f.grown) rows += FindingRow("grown", f.after, fmt::format(" <span class=\"tiny\">{} before</span>", Plain(f.before.value)));
  }
  for (const ReportedFinding& f : c.gone) rows += FindingRow("gone", f);
  for (const FindingChange& f : c.kept) {
    if (!f.grown) rows += FindingRow("unchanged", f.after);
  }
  if (rows.empty()) return "<p class=\"note\">Neither report has a finding.</p>\n";
  return "<table><thead><tr><th scope=\"col\">since then</th><th scope=\"col\">check</th><th scope=\"col\">finding</th></tr></thead><tbody>\n" + rows + "</tbody></table>\n";
}

std::string NumberText(const std::optional<double>& value) { return value ? Plain(*value) : "unknown"; }

std::string NumbersTable(const Comparison& c) {
  if (c.numbers.empty()) return "<p class=\"note\">None.</p>\n";
  std::string html = "<table class=\"narrow\"><thead><tr><th scope=\"col\">number</th><th scope=\"col\">before</th><th scope=\"col\">after</th><th scope=\"col\">so it is</th></tr></thead><tbody>\n";
  for (const NumberChange& n : c.numbers) {
    const bool judged = n.name != "cycle_time_s" && n.name != "removed_mm3";
    html += fmt::format("<tr><td>{}</td><td class=\"nw\">{}</td><td class=\"nw\">{}</td><td>{}</td></tr>\n", Escaped(n.name), NumberText(n.before),
                        NumberText(n.after), n.worse ? "<b>worse</b>" : judged ? "no worse" : "told, not judged");
  }
  return html + "</tbody></table>\n";
}

std::string Headline(const Comparison& c) {
  std::size_t grown = 0;
  for (const FindingChange& f : c.kept) grown += f.grown ? 1u : 0u;
  const std::string counts = fmt::format("{} new, {} grown, {} gone, {} unchanged", c.added.size(), grown, c.gone.size(), c.kept.size() - grown);
  return fmt::format("<h1>{} Findings: {}.</h1>\n", c.worse() ? "Something got worse." : "Nothing got worse.", counts);
}

Json FindingJson(const ReportedFinding& f) {
  Json json = {{"check", f.check}, {"text", f.text}, {"line", f.line > 0 ? Json(f.line) : Json(nullptr)}, {"at_mm", nullptr}, {"value", f.value}, {"limit", f.limit}};
  if (f.at_mm) json["at_mm"] = *f.at_mm;
  return json;
}

}  // namespace

std::string ComparisonHtml(const ReadRun& before, const ReadRun& after, const Comparison& c) {
  std::string html = "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
                     "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">\n"
                     "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  html += fmt::format("<title>Differences: {}</title>\n<style>{}</style></head>\n<body><main>\n", Escaped(after.run.job), PageStyle());
  html += fmt::format("<p class=\"kick\"><span>Dry run of <b>{}</b>, held against that in {}</span><span>report in {}</span></p>\n",
                      Escaped(after.run.job), Escaped(before.folder), Escaped(after.folder));
  html += Headline(c);
  html += fmt::format("<p class=\"reason\">Before: {} – {}<br>After: {} – {}</p>\n", ResultText(before.run.verdict), Escaped(before.run.headline),
                      ResultText(after.run.verdict), Escaped(after.run.headline));
  html += "<h2>Checks that changed</h2>\n" + ChecksTable(c) + "<h2>Findings</h2>\n" + FindingsTable(c);
  html += "<h2>Numbers that changed</h2>\n" + NumbersTable(c);
  const std::string pictures = PictureOf(before, "before") + PictureOf(after, "after");
  if (!pictures.empty()) html += "<h2>The piece as it would be cut</h2>\n<div class=\"pair\">" + pictures + "</div>\n";
  return html + "<p class=\"note end\">Nothing worse is not a pass: the verdict of the second report stands, and neither is permission to run.</p>\n</main></body></html>\n";
}

std::string ComparisonJson(const ReadRun& before, const ReadRun& after, const Comparison& c) {
  Json json = {{"schema", "aircut/differences/1"}, {"worse", c.worse()}};
  for (const auto& [when, read] : {std::pair<const char*, const ReadRun&>{"before", before}, {"after", after}}) {
    json[when] = {{"folder", read.folder}, {"verdict", read.run.verdict}};
  }
  json["checks"] = json["new"] = json["gone"] = json["grown"] = json["unchanged"] = json["numbers"] = Json::array();
  for (const CheckChange& check : c.checks) json["checks"].push_back({{"id", check.id}, {"before", check.before}, {"after", check.after}, {"worse", check.worse}});
  for (const ReportedFinding& f : c.added) json["new"].push_back(FindingJson(f));
  for (const ReportedFinding& f : c.gone) json["gone"].push_back(FindingJson(f));
  for (const FindingChange& f : c.kept) {
    Json finding = FindingJson(f.after);
    finding["value_before"] = f.before.value;
    json[f.grown ? "grown" : "unchanged"].push_back(std::move(finding));
  }
  const auto told = [](const std::optional<double>& v) { return v ? Json(*v) : Json(nullptr); };
  for (const NumberChange& n : c.numbers) json["numbers"].push_back({{"name", n.name}, {"before", told(n.before)}, {"after", told(n.after)}, {"worse", n.worse}});
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace aircut::verify
