#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "verify/page_scripts.h"
#include "verify/report_figures.h"
#include "verify/report_parts.h"
#include "verify/report_text.h"

// The page as a whole: verdict first, then what it rests on.
namespace aircut::verify {
namespace {

PageJson Parsed(const std::string& text, const char* schema) {
  PageJson json = PageJson::parse(text, nullptr, false);
  if (json.is_discarded() || !json.is_object() || json.value("schema", PageJson()) != schema) {
    throw std::invalid_argument(fmt::format("PageHtml: a text is not of the kind {}", schema));
  }
  return json;
}

std::string ResultOf(const Page& page, const PageJson& finding) {
  for (const PageJson& check : page.report["checks"]) {
    if (check["id"] == finding["check"]) return check["result"];
  }
  return "pass";
}

Page MakePage(const PageFiles& files) {
  Page page{Parsed(files.report_json, "aircut/report/1"), Parsed(files.figures_json, "aircut/figures/1"), files.pictures, {}, {}};
  for (const char* result : {"fail", "unproven", "pass"}) {
    for (const PageJson& check : page.report["checks"]) {
      if (check["result"] == result) page.checks.push_back(&check);
    }
  }
  for (const PageJson& finding : page.report["findings"]) {
    page.findings.push_back({finding["number"].get<int>(), &finding, ResultOf(page, finding)});
  }
  std::stable_sort(page.findings.begin(), page.findings.end(),
                   [](const PageFinding& a, const PageFinding& b) { return a.number < b.number; });
  return page;
}

int CountOf(const std::vector<const PageJson*>& checks, const char* result) {
  int count = 0;
  for (const PageJson* check : checks) count += (*check)["result"] == result;
  return count;
}

std::string Capital(std::string word) {
  word[0] = static_cast<char>(word[0] - 'a' + 'A');
  return word;
}

Result ResultNamed(const std::string& word) {
  return word == "fail" ? Result::kFail : word == "pass" ? Result::kPass : Result::kUnproven;
}

// The shape never stands without its word. A pass has its word in small print:
// the headline must not read as leave to run.
std::string Headline(const PageJson& report) {
  const std::string verdict = report["verdict"], headline = report["headline"], word = Capital(verdict);
  const Result result = ResultNamed(verdict);
  if (result == Result::kPass) {
    return fmt::format("<h1>{}{}</h1>\n<p class=\"note\">Result of the required checks: <b>pass</b>.</p>\n",
                       ShapeOf(result, 25), Escaped(headline));
  }
  const bool said = headline.rfind(word, 0) == 0;
  return fmt::format("<h1>{}{}{}</h1>\n", ShapeOf(result, 25), said ? "" : word + ". ", Escaped(headline));
}

std::string Opening(const PageJson& report) {
  const PageJson& run = report["run"];
  std::string html = fmt::format(
      "<p class=\"kick\"><span>Dry run of <b>{}</b> in {}{}</span>"
      "<span>aircut {} · stock in {} mm voxels</span></p>\n",
      TextAt(report["job"], "name"), TextAt(report["job"], "cell"),
      run["date"].is_null() ? "" : ", " + TextAt(run, "date"), TextAt(report["program"], "version"),
      Plain(ValueAt(run, "resolution_mm")));
  html += Headline(report);
  const std::string mend = report["mend_first"];
  if (!mend.empty()) {
    const bool said = mend.rfind("Mend first", 0) == 0;
    html += fmt::format("<p class=\"mend\">{}{}</p>\n", said ? "" : "Mend first: ", Escaped(mend));
  }
  const std::string reason = report["reason"];
  if (!reason.empty()) html += fmt::format("<p class=\"reason\">{}</p>\n", Escaped(reason));
  return html;
}

std::string Fact(const std::string& number, const std::string& meaning) {
  return fmt::format("<div><b>{}</b><span>{}</span></div>\n", number, meaning);
}

std::string Facts(const Page& page) {
  const PageJson& report = page.report;
  std::string html = "<div class=\"facts\">\n";
  html += Fact(fmt::format("{} fail, {} unproven", CountOf(page.checks, "fail"), CountOf(page.checks, "unproven")),
               fmt::format("of {} checks", page.checks.size()));
  html += report["cycle_time_s"].is_null() ? Fact("–", "no cycle time: the path cannot be followed to its end")
                                           : Fact(ClockText(ValueAt(report, "cycle_time_s")), "cycle time as modelled, min:s");
  const PageJson& deviation = report["deviation"];
  const bool known = !deviation["within_tolerance"].is_null() && ValueAt(report["depth"], "unseen_share") < 1.0;
  html += known ? Fact(Percent(ValueAt(deviation, "within_tolerance")),
                       report["features"]["regions"].empty()
                           ? fmt::format("of the carving within ±{} mm", Plain(ValueAt(report["depth"], "tolerance_mm")))
                           : std::string("of the carving within the limit of its place"))
                : Fact("–", "depth of the carving not known");
  html += Fact(Number(ValueAt(report, "removed_mm3") / 1000.0, 1) + "\u00a0cm³", "of material removed");
  return html + "</div>\n";
}

std::string Head(const Page& page) {
  std::string policy;
  for (const PageScript& script : PageScripts()) policy += fmt::format(" 'sha256-{}'", script.sha256_base64);
  std::string html = "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n";
  html += fmt::format("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
                      "img-src data:; script-src{}\">\n", policy);
  html += "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  return html + fmt::format("<title>Dry run: {}</title>\n<style>{}{}</style></head>\n<body><main>\n",
                            TextAt(page.report["job"], "name"), PageStyle(), ChartStyle());
}

// What the scripts draw: numbers, never code. A '<' in it cannot end the element.
std::string DataBlock(const char* id, const PageJson& json) {
  std::string safe;
  for (const char c : json.dump(-1, ' ', false, PageJson::error_handler_t::replace)) {
    safe += c == '<' ? std::string("\\u003c") : std::string(1, c);
  }
  return fmt::format("<script type=\"application/json\" id=\"{}\">{}</script>\n", id, safe);
}

PageJson FindingMarks(const Page& page) {
  PageJson marks = PageJson::array();
  for (const PageFinding& f : page.findings) {
    marks.push_back({{"number", f.number}, {"fails", f.fails()}, {"time_s", (*f.json)["time_s"]}, {"at_mm", (*f.json)["at_mm"]}});
  }
  return marks;
}

std::string Scripts(const Page& page) {
  std::string html = DataBlock("finding-marks", FindingMarks(page));
  html += DataBlock("over-the-job", page.figures["over_the_job"]) + DataBlock("solids", page.figures["solids"]);
  for (const PageScript& script : PageScripts()) html += fmt::format("<script>{}</script>\n", script.text);
  return html;
}

std::string Notices() {
  return fmt::format("<details class=\"notices screen\"><summary>Licences of the scripts in this page</summary><pre>{}</pre></details>\n",
                     Escaped(PageNotices()));
}

}  // namespace

std::optional<double> NumberAt(const PageJson& json, const char* key) {
  const PageJson& value = json.at(key);
  return value.is_number() ? std::optional<double>(value.get<double>()) : std::nullopt;
}

double ValueAt(const PageJson& json, const char* key) { return NumberAt(json, key).value_or(NAN); }

std::string TextAt(const PageJson& json, const char* key) { return Escaped(json.at(key).get<std::string>()); }

std::string PictureAddress(const Page& page, const std::string& file) {
  const auto found = page.pictures.find(file);
  return found == page.pictures.end() ? "" : "data:image/png;base64," + Base64(found->second);
}

std::string Tab(const PageFinding& finding) {
  return fmt::format("<a class=\"tab{}\" href=\"#f{}\" data-f=\"{}\">{}</a>", finding.fails() ? "" : " q", finding.number,
                     finding.number, finding.number);
}

std::string PageHtml(const PageFiles& files) {
  const Page page = MakePage(files);
  std::string html = Head(page);
  html += Opening(page.report) + Facts(page) + BlindSpotSection(page) + PremiseSection(page);
  html += PictureSection(page) + SolidSection(page) + DepthSections(page) + FeatureSection(page) + NearestSection(page) + TimeSection(page);
  html += LayerSection(page) + CheckSection(page) + FindingSection(page) + WaiverSection(page) + FirstCutSection(page);
  html += SourceSection(page);
  html += "<p class=\"note end\">A dry run on paper is evidence. It is never permission to run.</p>\n";
  return html + Notices() + "</main>\n" + Scripts(page) + "</body></html>\n";
}

std::string ReportHtml(const ReportContext& context, const PiecePicture& picture) {
  Figures figures = FiguresOf(context, picture);
  return PageHtml({ReportJson(context), figures.json, std::move(figures.pictures)});
}

}  // namespace aircut::verify
