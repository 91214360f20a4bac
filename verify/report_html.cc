#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"

namespace aircut::verify {
namespace {

Page MakePage(const ReportContext& context) {
  Page page{context, {}, {}, {}};
  for (const Result result : {Result::kFail, Result::kUnproven, Result::kPass}) {
    for (const CheckResult& check : context.checks) {
      if (check.computed && check.result == result) page.computed.push_back(&check);
    }
  }
  for (const CheckResult& check : context.checks) {
    if (!check.computed) page.not_computed.push_back(&check);
  }
  int number = 0;
  for (const CheckResult* check : page.computed) {
    for (const Finding& finding : check->findings) page.findings.push_back({++number, &finding, check});
  }
  return page;
}

int Count(const std::vector<const CheckResult*>& checks, Result result) {
  int count = 0;
  for (const CheckResult* check : checks) count += check->result == result;
  return count;
}

std::string Capital(std::string word) {
  word[0] = static_cast<char>(word[0] - 'a' + 'A');
  return word;
}

// The shape never stands without its word. A pass has its word in small print:
// the headline must not read as leave to run.
std::string Headline(const Verdict& verdict) {
  const std::string word = Capital(WordFor(verdict.result));
  const bool said = verdict.headline.rfind(word, 0) == 0;
  if (verdict.result == Result::kPass) {
    return fmt::format("<h1>{}{}</h1>\n<p class=\"note\">Result of the required checks: <b>pass</b>.</p>\n",
                       ShapeOf(verdict.result, 25), Escaped(verdict.headline));
  }
  return fmt::format("<h1>{}{}{}</h1>\n", ShapeOf(verdict.result, 25), said ? "" : word + ". ",
                     Escaped(verdict.headline));
}

std::string Opening(const ReportContext& context) {
  const Verdict& verdict = context.verdict;
  std::string html = fmt::format(
      "<p class=\"kick\"><span>Dry run of <b>{}</b> in {}</span>"
      "<span>aircut {} · stock in {} mm voxels</span></p>\n",
      Escaped(context.job.name), Escaped(context.job.cell.name), AIRCUT_VERSION,
      Plain(context.resolution_mm));
  html += Headline(verdict);
  if (!verdict.mend_first.empty()) {
    const bool said = verdict.mend_first.rfind("Mend first", 0) == 0;
    html += fmt::format("<p class=\"mend\">{}{}</p>\n", said ? "" : "Mend first: ",
                        Escaped(verdict.mend_first));
  }
  if (!verdict.reason.empty()) html += fmt::format("<p class=\"reason\">{}</p>\n", Escaped(verdict.reason));
  return html;
}

std::string Fact(const std::string& number, const std::string& meaning) {
  return fmt::format("<div><b>{}</b><span>{}</span></div>\n", number, meaning);
}

std::string Facts(const Page& page) {
  const ReportContext& context = page.context;
  const int failed = Count(page.computed, Result::kFail);
  const int unproven = Count(page.computed, Result::kUnproven);
  std::string html = "<div class=\"facts\">\n";
  html += Fact(fmt::format("{} fail, {} unproven", failed, unproven),
               fmt::format("of {} checks computed; {} not computed yet", page.computed.size(),
                           page.not_computed.size()));
  const kinematics::Motion& motion = context.run.motion;
  html += motion.complete() ? Fact(ClockText(motion.tracks.front().time_s.back()), "cycle time as modelled, min:s")
                            : Fact("–", "no cycle time: the path cannot be followed to its end");
  const Deviation& deviation = context.deviation;
  const std::string tolerance = Plain(context.job.accept.depth_mm.value);
  html += deviation.carve_samples > deviation.unknown_samples && deviation.unseen_share < 1.0
              ? Fact(Percent(deviation.within_tolerance),
                     fmt::format("of the carving within ±{} mm", tolerance))
              : Fact("–", "depth of the carving not known");
  html += Fact(Number(context.run.cut.removed_mm3 / 1000.0, 1) + "\u00a0cm³", "of material removed");
  return html + "</div>\n";
}

}  // namespace

std::string Tab(const NumberedFinding& finding) {
  const bool fail = finding.check->result == Result::kFail;
  return fmt::format("<span class=\"tab{}\">{}</span>", fail ? "" : " q", finding.number);
}

std::string ReportHtml(const ReportContext& context, const PiecePicture& picture) {
  const Page page = MakePage(context);
  std::string html =
      "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
      "style-src 'unsafe-inline'; img-src data:\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  html += fmt::format("<title>Dry run: {}</title>\n<style>{}</style></head>\n<body><main>\n",
                      Escaped(context.job.name), PageStyle());
  html += Opening(context);
  html += Facts(page);
  html += PictureSection(page, picture);
  html += BlindSpotSection(page);
  html += CheckSection(page);
  html += ExecutedSection(page);
  html += NearestSection(page);
  html += FindingSection(page);
  html += FirstCutSection(page);
  html += TimeSection(page);
  html += SourceSection(page);
  html += "<p class=\"note end\">A dry run on paper is evidence. It is never permission to run.</p>\n";
  return html + "</main></body></html>\n";
}

}  // namespace aircut::verify
